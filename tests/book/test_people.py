"""Who may sign in with one tap, who must have a password, and what serving waits for."""

import pytest
from django.contrib.auth import authenticate

from rehang.book import members, services
from rehang.trade.terms.errors import BadInput, NotAllowed
from tests.book.shop import KEPT, folder

pytestmark = pytest.mark.django_db

HERE = {"REMOTE_ADDR": "127.0.0.1"}
GOOD = "feeler-gauge-018"


def set_password(key: str, password: str = GOOD, by: str = "") -> None:
    services.set_password(person=key, password=password, by=by or key, at=KEPT)


def test_everyone_in_a_loaded_job_can_tap_in_at_the_machine(job):
    assert [one.key for one in members.tap_in_choices(HERE)] == ["ada", "ben", "cy"]


@pytest.mark.parametrize(
    ("meta", "bound", "sentence"),
    [
        ({"REMOTE_ADDR": "192.168.4.20"}, "127.0.0.1",
         "Signing in with one tap works only at the machine itself."),
        ({"REMOTE_ADDR": "127.0.0.1", "HTTP_X_FORWARDED_FOR": "192.168.4.20"}, "127.0.0.1",
         "Signing in with one tap works only at the machine itself."),
        ({}, "127.0.0.1", "Signing in with one tap works only at the machine itself."),
        (HERE, "192.168.4.1", "Signing in with one tap works only while the board is served on this machine alone."),
        (HERE, "", "Signing in with one tap works only while the board is served on this machine alone."),
        (HERE, "shop.lan", "Signing in with one tap works only while the board is served on this machine alone."),
    ],
)  # fmt: skip
def test_from_elsewhere_nobody_taps_in(job, settings, meta, bound, sentence):
    settings.REHANG_BOUND = bound
    with pytest.raises(NotAllowed, match=r".") as refusal:
        members.check_can_tap_in(members.member("ada"), meta)
    assert str(refusal.value) == sentence
    assert members.tap_in_choices(meta) == []


@pytest.mark.parametrize("bound", ["127.0.0.1", "localhost", "::1", "[::1]", "127.0.0.9"])
def test_each_name_of_loopback_is_this_machine(job, settings, bound):
    settings.REHANG_BOUND = bound
    assert members.can_tap_in(members.member("ada"), {"REMOTE_ADDR": "::1"})


def test_who_has_a_password_signs_in_with_it(job):
    set_password("ada")
    ada = members.member("ada")
    assert members.has_password(ada)
    with pytest.raises(NotAllowed, match=r"^Ada has a password\. Sign in with it\.$"):
        members.check_can_tap_in(ada, HERE)
    assert [one.key for one in members.tap_in_choices(HERE)] == ["ben", "cy"]


def test_a_password_opens_the_door_and_an_empty_one_does_not(job, rf):
    set_password("ada")
    request = rf.post("/sign-in/")
    user = authenticate(request, username="ada", password=GOOD)
    assert members.member_of(user) == members.member("ada")
    for key, password in (("ada", ""), ("ada", "wrong-one"), ("ben", ""), ("ben", GOOD)):
        assert authenticate(request, username=key, password=password) is None


@pytest.mark.parametrize(
    ("password", "sentence"),
    [
        ("", "password: Enter a password."),
        (
            "eleven-long",
            "password: This password is too short. It must contain at least 12 characters.",
        ),
        ("q1w2e3r4t5y6", "password: This password is too common."),
        ("Ada Finch 2026", "password: The password is too similar to the name."),
    ],
)
def test_a_password_that_is_guessed_at_once_is_refused(job, password, sentence):
    ada = members.member("ada")
    ada.name = "Ada Finch"
    ada.save()
    with pytest.raises(BadInput, match=r".") as refusal:
        set_password("ada", password)
    assert str(refusal.value) == sentence
    assert not members.has_password(members.member("ada"))


def test_a_long_password_with_spaces_and_any_letters_counts_to_its_end(job, rf):
    long = "  Ölwanne 長い 🔧 " + "feeler gauge " * 8 + "x"
    assert len(long) > 100
    set_password("ada", long)
    request = rf.post("/sign-in/")
    assert authenticate(request, username="ada", password=long) is not None
    for other in (long[:-1], long.strip(), long[:64], long[:72]):
        assert authenticate(request, username="ada", password=other) is None


def test_nobody_sets_the_password_of_another(job):
    with pytest.raises(NotAllowed, match=r"^Each person sets their own password\.$"):
        set_password("ada", by="ben")
    with pytest.raises(BadInput, match=r'^Nobody here has the key "zed"\.$'):
        set_password("zed")


def test_the_shops_network_waits_until_everyone_on_the_board_has_a_password(job):
    from rehang.site import serve

    set_password("ben")
    with pytest.raises(
        NotAllowed,
        match=r"^Serving on the shop's network waits until each person has a password\. "
        r"Still without one: Ada, Cy\. "
        r"Serve on this machine alone, give each a one-time code on the page People, or put their jobs away\.$",
    ):
        serve.check_everyone_has_a_password()
    set_password("ada")
    set_password("cy")
    serve.check_everyone_has_a_password()
    # Another job on the board brings another person; put away, it does not count.
    people = '[[person]]\nkey = "dee"\nname = "Dee"\n'
    second = services.load_folder(
        folder=folder("second", people=people, limits=""), by="dee", at=KEPT
    )
    assert [one.name for one in members.people_without_password()] == ["Dee"]
    services.write(
        job=second, kind="put_away", by="dee", at=KEPT, data={"reason": "done"}, confirmed="dee"
    )
    assert members.people_without_password() == []


def test_a_user_who_is_nobody_is_no_member(django_user_model, db):
    from django.contrib.auth.models import AnonymousUser

    assert members.member_of(AnonymousUser()) is None
    assert members.member_of(django_user_model.objects.create_user("somebody")) is None
