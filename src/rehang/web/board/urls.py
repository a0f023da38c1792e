"""Addresses of the board, the bench, what is handed over, the book and its read back."""

from django.urls import path

from rehang.web.board import book, handover, views

urlpatterns = [
    path("", views.home, name="home"),
    path("jobs/<slug:slug>/", views.board, name="board"),
    path("jobs/<slug:slug>/put-away/", views.put_away, name="put_away"),
    path("jobs/<slug:slug>/bring-back/", views.bring_back, name="bring_back"),
    path("jobs/<slug:slug>/under/", views.work_under, name="under"),
    path("jobs/<slug:slug>/act/", views.act, name="act"),
    path("jobs/<slug:slug>/read-back/", book.read_back, name="read_back"),
    path("jobs/<slug:slug>/book/", book.book, name="book"),
    path("jobs/<slug:slug>/strike/", book.strike, name="strike"),
    path("jobs/<slug:slug>/rest/bench/", handover.bench, name="bench"),
    path("jobs/<slug:slug>/rest/handover/", handover.handover, name="handover"),
    path("jobs/<slug:slug>/paper/bench.pdf", handover.bench_pdf, name="bench_pdf"),
    path("jobs/<slug:slug>/paper/handover.pdf", handover.handover_pdf, name="handover_pdf"),
]
