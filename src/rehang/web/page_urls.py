"""Addresses of every page but the tray."""

from django.urls import path

from rehang.web.views import auth, board, book, limits, meters, paper, people, plug

urlpatterns = [
    path("", board.home, name="home"),
    path("sign-in/", auth.sign_in, name="sign_in"),
    path("code/", auth.use_code, name="code"),
    path("visits/", auth.own_visits, name="visits"),
    path("people/", people.people, name="people"),
    path("sign-out/", auth.sign_out, name="sign_out"),
    path("set-password/", auth.set_password, name="set_password"),
    path("pin/", auth.set_pin, name="set_pin"),
    path("jobs/<slug:slug>/", board.board, name="board"),
    path("jobs/<slug:slug>/blockers/", board.blockers, name="blockers"),
    path("jobs/<slug:slug>/put-away/", board.put_away, name="put_away"),
    path("jobs/<slug:slug>/bring-back/", board.bring_back, name="bring_back"),
    path("jobs/<slug:slug>/under/", board.work_under, name="under"),
    path("jobs/<slug:slug>/act/", board.act, name="act"),
    path("jobs/<slug:slug>/plugs/<str:name>/", plug.plug, name="plug"),
    path("jobs/<slug:slug>/read-back/", plug.read_back, name="read_back"),
    path("jobs/<slug:slug>/book/", book.book, name="book"),
    path("jobs/<slug:slug>/strike/", book.strike, name="strike"),
    path("jobs/<slug:slug>/meters/", meters.meters, name="meters"),
    path("jobs/<slug:slug>/meters/new/", meters.new_meter, name="new_meter"),
    path("jobs/<slug:slug>/meters/of/<str:name>/", meters.meter, name="meter"),
    path("jobs/<slug:slug>/limits/", limits.limits, name="limits"),
    path("jobs/<slug:slug>/limits/<int:number>/", limits.limit, name="limit"),
    path(
        "jobs/<slug:slug>/limits/new/<slug:kind>/<slug:check>/", limits.new_limit, name="new_limit"
    ),
    path("jobs/<slug:slug>/paper/", paper.paper_page, name="paper"),
    path("jobs/<slug:slug>/paper/tray-record.pdf", paper.record_pdf, name="record_pdf"),
    path("jobs/<slug:slug>/paper/blank-sheet.pdf", paper.blank_pdf, name="blank_pdf"),
]
