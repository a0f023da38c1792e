"""Addresses of the run card and of each run."""

from django.urls import path

from rehang.web.run import views

urlpatterns = [
    path("jobs/<slug:slug>/run/", views.run, name="run"),
    path("jobs/<slug:slug>/run/begin/", views.begin, name="run_begin"),
    path("jobs/<slug:slug>/run/step/", views.step, name="run_step"),
    path("jobs/<slug:slug>/run/read/", views.read, name="run_read"),
    path("jobs/<slug:slug>/run/end/", views.end, name="run_end"),
    path("jobs/<slug:slug>/run/drops/", views.drops, name="run_drops"),
    path("jobs/<slug:slug>/run/air/", views.air, name="run_air"),
    path("jobs/<slug:slug>/run/of/<path:name>/", views.run_of, name="run_of"),
]
