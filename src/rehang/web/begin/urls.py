"""Addresses of the first page of a shop, of the demo and of new jobs."""

from django.urls import path

from rehang.web.begin import demo, job, layout, shop

urlpatterns = [
    path("begin/", shop.begin, name="begin"),
    path("demo/", demo.demo, name="demo"),
    path("new-job/", job.new_job, name="new_job"),
    path("new-job/engine/", job.new_engine, name="new_engine"),
    path("new-job/layout/", layout.layout_preview, name="new_layout"),
    path("new-job/bring/", job.bring, name="bring_job"),
    path("new-job/of/<slug:slug>/", job.known_engine, name="known_engine"),
]
