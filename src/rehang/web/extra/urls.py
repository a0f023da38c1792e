"""Addresses of work found: the list, one piece of it, the page for the owner."""

from django.urls import path

from rehang.web.extra import views

urlpatterns = [
    path("jobs/<slug:slug>/extra/", views.extras, name="extras"),
    path("jobs/<slug:slug>/extra/ask/", views.extra_ask, name="extra_ask"),
    path("jobs/<slug:slug>/extra/owner/", views.extra_owner, name="extra_owner"),
    path("jobs/<slug:slug>/extra/one/<str:extra>/", views.extra, name="extra"),
    path("jobs/<slug:slug>/paper/extra.pdf", views.extra_pdf, name="extra_pdf"),
]
