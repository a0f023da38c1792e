"""Addresses of the records, of what was signed, and of what comes due next."""

from django.urls import path

from rehang.web.views import record

urlpatterns = [
    path("jobs/<slug:slug>/record/", record.records, name="records"),
    path("jobs/<slug:slug>/record/signed/<str:entry_id>/", record.signed, name="signed"),
    path(
        "jobs/<slug:slug>/record/signed/<str:entry_id>/record.pdf",
        record.signed_record_pdf,
        name="signed_pdf",
    ),
    path("jobs/<slug:slug>/record/<slug:what>/", record.record, name="record"),
    path("jobs/<slug:slug>/record/<slug:what>/write/", record.write, name="record_write"),
    path("jobs/<slug:slug>/record/<slug:what>/sign/", record.sign, name="record_sign"),
    path("jobs/<slug:slug>/record/<slug:what>/draft.pdf", record.draft_pdf, name="draft_pdf"),
    path("jobs/<slug:slug>/due/", record.due, name="due"),
    path("jobs/<slug:slug>/due/next-due.ics", record.due_calendar, name="due_ics"),
    path("jobs/<slug:slug>/due/next-due.pdf", record.due_sheet_pdf, name="due_pdf"),
]
