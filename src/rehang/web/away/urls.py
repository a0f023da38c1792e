"""Addresses of what a page asks for by itself: the worker, the pages ahead, how far the book is."""

from django.urls import path

from rehang.web.away import views

urlpatterns = [
    path("worker.js", views.worker, name="worker"),
    path("jobs/<slug:slug>/ahead/", views.ahead, name="ahead"),
    path("jobs/<slug:slug>/so-far/", views.so_far, name="so_far"),
]
