"""Addresses of tables, photos, paper, labels and the kept folder."""

from django.urls import path

from rehang.web.files import keep, paper, photos, tables

urlpatterns = [
    path("jobs/<slug:slug>/tables/", tables.tables, name="tables"),
    path(
        "jobs/<slug:slug>/tables/<slug:what>.<slug:file_format>",
        tables.table_file,
        name="table_file",
    ),
    path("jobs/<slug:slug>/photos/", photos.photos, name="photos"),
    path("jobs/<slug:slug>/photos/<str:name>", photos.photo, name="photo"),
    path("label/", keep.label, name="label"),
    path("jobs/<slug:slug>/paper/", paper.paper_page, name="paper"),
    path("jobs/<slug:slug>/paper/tray-record.pdf", paper.record_pdf, name="record_pdf"),
    path("jobs/<slug:slug>/paper/blank-sheet.pdf", paper.blank_pdf, name="blank_pdf"),
    path("jobs/<slug:slug>/paper/tags.pdf", keep.tags, name="tags_pdf"),
    path("jobs/<slug:slug>/paper/labels.pdf", keep.labels, name="labels_pdf"),
    path("jobs/<slug:slug>/paper/archive.zip", keep.archive, name="archive_zip"),
]
