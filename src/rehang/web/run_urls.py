"""Addresses of the run card, of each run, and of the torque cards."""

from django.urls import path

from rehang.web.views import run, torque

urlpatterns = [
    path("jobs/<slug:slug>/run/", run.run, name="run"),
    path("jobs/<slug:slug>/run/begin/", run.begin, name="run_begin"),
    path("jobs/<slug:slug>/run/step/", run.step, name="run_step"),
    path("jobs/<slug:slug>/run/read/", run.read, name="run_read"),
    path("jobs/<slug:slug>/run/end/", run.end, name="run_end"),
    path("jobs/<slug:slug>/run/drops/", run.drops, name="run_drops"),
    path("jobs/<slug:slug>/run/air/", run.air, name="run_air"),
    path("jobs/<slug:slug>/run/of/<str:name>/", run.run_of, name="run_of"),
    path("jobs/<slug:slug>/torque/", torque.groups, name="torque"),
    path("jobs/<slug:slug>/torque/<slug:group>/", torque.group, name="torque_group"),
    path("jobs/<slug:slug>/torque/<slug:group>/call/", torque.call, name="torque_call"),
]
