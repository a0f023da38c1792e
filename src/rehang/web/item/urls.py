"""Addresses of the engine page and of every item that is looked at on it."""

from django.urls import path

from rehang.web.item import engine, oil, reading, reading_all, views

urlpatterns = [
    path("jobs/<slug:slug>/plugs/<path:name>/", views.plug, name="plug"),
    path("jobs/<slug:slug>/engine/", engine.engine, name="engine"),
    path("jobs/<slug:slug>/engine/oil/", oil.oil, name="oil"),
    # A serial may have a stroke in it, so what stands behind one is looked for first.
    path("jobs/<slug:slug>/items/<slug:kind>/<path:name>/write/", views.write, name="item_write"),
    path(
        "jobs/<slug:slug>/items/<slug:kind>/<path:name>/read/<slug:check>/",
        reading.read,
        name="read",
    ),
    path(
        "jobs/<slug:slug>/read-all/<slug:kind>/<slug:check>/",
        reading_all.read_all,
        name="read_all",
    ),
    path("jobs/<slug:slug>/items/<slug:kind>/<path:name>/", views.item, name="item"),
]
