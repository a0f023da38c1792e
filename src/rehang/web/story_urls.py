"""Addresses of the story of an item."""

from django.urls import path, re_path

from rehang.web.views import story

urlpatterns = [
    path("jobs/<slug:slug>/story/<slug:kind>/<str:name>/", story.part_story, name="story"),
    path(
        "jobs/<slug:slug>/story/<slug:kind>/<str:name>/story.pdf", story.story_pdf, name="story_pdf"
    ),
    re_path(
        r"^jobs/(?P<slug>[-\w]+)/story/(?P<kind>[-\w]+)/(?P<name>[^/]+)/chart\.(?P<form>svg|json)$",
        story.chart_file,
        name="story_chart",
    ),
]
