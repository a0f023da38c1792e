"""Addresses of the rest of the job: tasks, places, parts, the plan, the rotation, the owner."""

from django.urls import path

from rehang.web.work import at_once, cylinders_off, fitting, views, which, why_off

urlpatterns = [
    path("jobs/<slug:slug>/rest/", views.rest, name="rest"),
    path("jobs/<slug:slug>/rest/plan/", views.plan_live, name="plan_live"),
    path("jobs/<slug:slug>/rest/promise/", views.promise, name="promise"),
    path("jobs/<slug:slug>/rest/tasks/", which.which_tasks, name="which_tasks"),
    path("jobs/<slug:slug>/rest/why/", why_off.why_off, name="why_off"),
    path("jobs/<slug:slug>/rest/cylinders/", cylinders_off.cylinders_off, name="cylinders_off"),
    path("jobs/<slug:slug>/rest/parts/", views.parts, name="parts"),
    path("jobs/<slug:slug>/rest/parts/used/", at_once.used_at_once, name="used_at_once"),
    path("jobs/<slug:slug>/rest/owner/", views.owner, name="owner"),
    path("jobs/<slug:slug>/rest/rotation/", views.rotation, name="rotation"),
    path("jobs/<slug:slug>/rest/plan.ics", views.plan_calendar, name="plan_calendar"),
    path("jobs/<slug:slug>/paper/plan.pdf", views.plan_pdf, name="plan_pdf"),
    path("jobs/<slug:slug>/paper/owner.pdf", views.owner_pdf, name="owner_pdf"),
    path("jobs/<slug:slug>/places/", fitting.places, name="places"),
    path("jobs/<slug:slug>/places/in/", fitting.put_in, name="put_in"),
    path("jobs/<slug:slug>/places/out/", fitting.take_out, name="take_out"),
    path("jobs/<slug:slug>/tasks/<str:name>/", views.task, name="task"),
    path("jobs/<slug:slug>/tasks/<str:name>/all/", at_once.task_at_once, name="task_at_once"),
]
