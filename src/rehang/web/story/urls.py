"""Addresses of the story of an item, and of what comes due on every engine."""

from django.urls import path, re_path

from rehang.web.story import fleet, forecast, views

urlpatterns = [
    # A serial may have a stroke in it, so what stands behind one is looked for first.
    path(
        "jobs/<slug:slug>/story/<slug:kind>/<path:name>/story.pdf",
        views.story_pdf,
        name="story_pdf",
    ),
    re_path(
        r"^jobs/(?P<slug>[-\w]+)/story/(?P<kind>[-\w]+)/(?P<name>.+)/chart\.(?P<form>svg|json)$",
        views.chart_file,
        name="story_chart",
    ),
    path("jobs/<slug:slug>/story/<slug:kind>/<path:name>/", views.part_story, name="story"),
    path("jobs/<slug:slug>/keep-or-renew/", forecast.forecast, name="forecast"),
    path("fleet/", fleet.fleet, name="fleet"),
    re_path(r"^fleet/what-comes-due\.(?P<form>csv|xlsx|ics)$", fleet.fleet_file, name="fleet_file"),
]
