"""Every address of the site."""

from django.urls import include, path

from rehang.web.api.views import api, api_page

handler400 = "rehang.site.refusals.bad_request"
handler404 = "rehang.site.refusals.not_found"
handler500 = "rehang.site.refusals.broken"

urlpatterns = [
    path("api/", api_page, name="api"),
    path("api/", api.urls),
    path("", include("rehang.web.urls")),
]
