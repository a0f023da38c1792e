"""Addresses of tables in and out: readings, meters and limits as CSV and XLSX."""

from django.urls import path

from rehang.web.views import tables

urlpatterns = [
    path("jobs/<slug:slug>/tables/", tables.tables, name="tables"),
    path(
        "jobs/<slug:slug>/tables/<slug:what>.<slug:file_format>",
        tables.table_file,
        name="table_file",
    ),
]
