"""Addresses of the search, of what explains a page, and of the first walk."""

from django.urls import path

from rehang.web.find import views, walk

urlpatterns = [
    path("find/", views.find, name="find"),
    path("help/<slug:name>/", views.help_page, name="help_page"),
    path("jobs/<slug:slug>/walk/", walk.walk, name="walk"),
]
