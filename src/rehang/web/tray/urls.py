"""Addresses of the tray, the plugs out, the line, why and the close call."""

from django.urls import path

from rehang.web.tray import close_call, line, out
from rehang.web.tray import views as tray

urlpatterns = [
    path("jobs/<slug:slug>/tray/", tray.tray, name="tray"),
    path("jobs/<slug:slug>/tray/cells/", tray.cells, name="tray_partial"),
    path("jobs/<slug:slug>/tray/out/", out.plugs_out, name="plugs_out"),
    path("jobs/<slug:slug>/tray/meter/", tray.choose_meter, name="choose_meter"),
    path("jobs/<slug:slug>/tray/why/<str:hole>/<str:check>/", tray.why, name="why"),
    path("jobs/<slug:slug>/tray/line/preview/", line.line_preview, name="line_preview"),
    path("jobs/<slug:slug>/tray/line/", line.line_keep, name="line_keep"),
    path("jobs/<slug:slug>/close/<str:entry_id>/", close_call.close_call, name="close_call"),
    path("jobs/<slug:slug>/close/<str:entry_id>/again/", close_call.read_again, name="read_again"),
    path("jobs/<slug:slug>/close/<str:entry_id>/call/", close_call.call_it, name="call_it"),
    path("jobs/<slug:slug>/close/<str:entry_id>/open/", close_call.leave_open, name="leave_open"),
]
