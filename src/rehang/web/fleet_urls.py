"""Addresses of what comes due on every engine."""

from django.urls import path, re_path

from rehang.web.views import fleet

urlpatterns = [
    path("fleet/", fleet.fleet, name="fleet"),
    re_path(r"^fleet/what-comes-due\.(?P<form>csv|xlsx|ics)$", fleet.fleet_file, name="fleet_file"),
]
