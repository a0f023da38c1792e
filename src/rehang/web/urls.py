"""Every address of the pages; the JSON API stands beside them under ``/api/``."""

from django.urls import path

from rehang.web.page_urls import urlpatterns as page_urls
from rehang.web.tray_urls import urlpatterns as tray_urls
from rehang.web.views.mode import set_mode

app_name = "web"

urlpatterns = [path("mode/", set_mode, name="mode"), *tray_urls, *page_urls]
