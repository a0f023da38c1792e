"""Addresses of the shop: its door, its people, its limits and its meters."""

from django.urls import path

from rehang.web.shop import backup, from_shop, limits, meters, people, phones, sign_in

urlpatterns = [
    path("sign-in/", sign_in.sign_in, name="sign_in"),
    path("code/", sign_in.use_code, name="code"),
    path("visits/", sign_in.own_visits, name="visits"),
    path("people/", people.people, name="people"),
    path("backup/", backup.backup, name="backup"),
    path("phones/", phones.phones, name="phones"),
    path("phones/trust.crt", phones.trust, name="phone_trust"),
    path("sign-out/", sign_in.sign_out, name="sign_out"),
    path("set-password/", sign_in.set_password, name="set_password"),
    path("pin/", sign_in.set_pin, name="set_pin"),
    path("jobs/<slug:slug>/let-go/", limits.let_go, name="let_go"),
    path("jobs/<slug:slug>/from-the-shop/", from_shop.from_shop, name="from_shop"),
    path("jobs/<slug:slug>/meters/", meters.meters, name="meters"),
    path("jobs/<slug:slug>/meters/new/", meters.new_meter, name="new_meter"),
    path("jobs/<slug:slug>/meters/of/<path:name>/", meters.meter, name="meter"),
    path("jobs/<slug:slug>/limits/", limits.limits, name="limits"),
    path("jobs/<slug:slug>/limits/<int:number>/", limits.limit, name="limit"),
    path(
        "jobs/<slug:slug>/limits/new/<slug:kind>/<slug:check>/", limits.new_limit, name="new_limit"
    ),
]
