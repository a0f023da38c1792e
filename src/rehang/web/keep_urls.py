"""Addresses of tags, labels and the kept folder."""

from django.urls import path

from rehang.web.views import keep

urlpatterns = [
    path("label/", keep.label, name="label"),
    path("jobs/<slug:slug>/paper/tags.pdf", keep.tags, name="tags_pdf"),
    path("jobs/<slug:slug>/paper/labels.pdf", keep.labels, name="labels_pdf"),
    path("jobs/<slug:slug>/paper/archive.zip", keep.archive, name="archive_zip"),
]
