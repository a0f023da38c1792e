"""Addresses of the torque cards."""

from django.urls import path

from rehang.web.torque import views

urlpatterns = [
    path("jobs/<slug:slug>/torque/", views.groups, name="torque"),
    path("jobs/<slug:slug>/torque/<slug:group>/", views.group, name="torque_group"),
    path("jobs/<slug:slug>/torque/<slug:group>/call/", views.call, name="torque_call"),
]
