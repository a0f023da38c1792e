"""Every address of the pages; the JSON API stands beside them under ``/api/``."""

from django.urls import path

from rehang.web.engine_urls import urlpatterns as engine_urls
from rehang.web.fleet_urls import urlpatterns as fleet_urls
from rehang.web.keep_urls import urlpatterns as keep_urls
from rehang.web.page_urls import urlpatterns as page_urls
from rehang.web.photo_urls import urlpatterns as photo_urls
from rehang.web.record_urls import urlpatterns as record_urls
from rehang.web.run_urls import urlpatterns as run_urls
from rehang.web.story_urls import urlpatterns as story_urls
from rehang.web.table_urls import urlpatterns as table_urls
from rehang.web.tray_urls import urlpatterns as tray_urls
from rehang.web.views.mode import set_mode
from rehang.web.work_urls import urlpatterns as work_urls

app_name = "web"

urlpatterns = [
    path("mode/", set_mode, name="mode"),
    *tray_urls,
    *engine_urls,
    *page_urls,
    *table_urls,
    *photo_urls,
    *story_urls,
    *keep_urls,
    *record_urls,
    *run_urls,
    *fleet_urls,
    *work_urls,
]
