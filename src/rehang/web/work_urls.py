"""Addresses of the rest of the job: tasks, what to fetch, parts, the plan, the handover sheet."""

from django.urls import path

from rehang.web.views import fitting, work

urlpatterns = [
    path("jobs/<slug:slug>/rest/", work.rest, name="rest"),
    path("jobs/<slug:slug>/rest/plan/", work.plan_live, name="plan_live"),
    path("jobs/<slug:slug>/rest/promise/", work.promise, name="promise"),
    path("jobs/<slug:slug>/rest/bench/", work.bench, name="bench"),
    path("jobs/<slug:slug>/rest/handover/", work.handover, name="handover"),
    path("jobs/<slug:slug>/rest/parts/", work.parts, name="parts"),
    path("jobs/<slug:slug>/rest/owner/", work.owner, name="owner"),
    path("jobs/<slug:slug>/rest/rotation/", work.rotation, name="rotation"),
    path("jobs/<slug:slug>/rest/plan.ics", work.plan_calendar, name="plan_calendar"),
    path("jobs/<slug:slug>/paper/plan.pdf", work.plan_pdf, name="plan_pdf"),
    path("jobs/<slug:slug>/paper/owner.pdf", work.owner_pdf, name="owner_pdf"),
    path("jobs/<slug:slug>/paper/bench.pdf", work.bench_pdf, name="bench_pdf"),
    path("jobs/<slug:slug>/paper/handover.pdf", work.handover_pdf, name="handover_pdf"),
    path("jobs/<slug:slug>/places/", fitting.places, name="places"),
    path("jobs/<slug:slug>/places/in/", fitting.put_in, name="put_in"),
    path("jobs/<slug:slug>/places/out/", fitting.take_out, name="take_out"),
    path("jobs/<slug:slug>/tasks/<str:name>/", work.task, name="task"),
]
