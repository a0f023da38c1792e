"""Addresses of the engine monitor: its tables, what their columns are, and one table drawn."""

from django.urls import path

from rehang.web.monitor import views

urlpatterns = [
    path("jobs/<slug:slug>/monitor/", views.monitors, name="monitors"),
    path(
        "jobs/<slug:slug>/monitor/columns/<str:mark>/",
        views.monitor_columns,
        name="monitor_columns",
    ),
    path("jobs/<slug:slug>/monitor/one/<str:entry_id>/", views.monitor, name="monitor"),
    path(
        "jobs/<slug:slug>/monitor/one/<str:entry_id>/table.csv",
        views.monitor_file,
        name="monitor_file",
    ),
]
