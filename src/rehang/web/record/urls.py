"""Addresses of the records, what they wait for, what was signed and what comes due next."""

from django.urls import path

from rehang.web.record import views

urlpatterns = [
    path("jobs/<slug:slug>/blockers/", views.blockers, name="blockers"),
    path("jobs/<slug:slug>/record/", views.records, name="records"),
    path("jobs/<slug:slug>/record/signed/<str:entry_id>/", views.signed, name="signed"),
    path(
        "jobs/<slug:slug>/record/signed/<str:entry_id>/record.pdf",
        views.signed_record_pdf,
        name="signed_pdf",
    ),
    path("jobs/<slug:slug>/record/<slug:what>/", views.record, name="record"),
    path("jobs/<slug:slug>/record/<slug:what>/write/", views.write, name="record_write"),
    path("jobs/<slug:slug>/record/<slug:what>/sign/", views.sign, name="record_sign"),
    path("jobs/<slug:slug>/record/<slug:what>/draft.pdf", views.draft_pdf, name="draft_pdf"),
    path("jobs/<slug:slug>/due/", views.due, name="due"),
    path("jobs/<slug:slug>/due/next-due.ics", views.due_calendar, name="due_ics"),
    path("jobs/<slug:slug>/due/next-due.pdf", views.due_sheet_pdf, name="due_pdf"),
]
