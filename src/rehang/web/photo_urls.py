"""Addresses of the photos of a job."""

from django.urls import path

from rehang.web.views import photos

urlpatterns = [
    path("jobs/<slug:slug>/photos/", photos.photos, name="photos"),
    path("jobs/<slug:slug>/photos/<str:name>", photos.photo, name="photo"),
]
