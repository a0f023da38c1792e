"""Addresses of what is on file for a job."""

from django.urls import path

from rehang.web.facts import views

urlpatterns = [
    path("jobs/<slug:slug>/facts/", views.job_kinds, name="facts"),
    path("jobs/<slug:slug>/facts/<slug:name>/", views.job_kind, name="facts_kind"),
    path("jobs/<slug:slug>/facts/<slug:name>/new/", views.job_new, name="facts_new"),
    path("jobs/<slug:slug>/facts/<slug:name>/of/<path:key>/", views.job_thing, name="facts_thing"),
]
