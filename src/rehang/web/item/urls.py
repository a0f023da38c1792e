"""Addresses of the engine page and of every item that is looked at on it."""

from django.urls import path

from rehang.web.item import engine, views

urlpatterns = [
    path("jobs/<slug:slug>/plugs/<str:name>/", views.plug, name="plug"),
    path("jobs/<slug:slug>/engine/", engine.engine, name="engine"),
    path("jobs/<slug:slug>/engine/oil/", engine.oil, name="oil"),
    path("jobs/<slug:slug>/items/<slug:kind>/<str:name>/", engine.item, name="item"),
    path(
        "jobs/<slug:slug>/items/<slug:kind>/<str:name>/read/<slug:check>/",
        engine.read,
        name="read",
    ),
]
