"""PINs of the people in tests of what is settled."""

from datetime import UTC, datetime

PIN = "480713"


def give_pins(*people: str, pin: str = PIN) -> None:
    """Give these people the PIN of the tests, as if each had set it with a one-time code."""
    from django.contrib.auth.hashers import make_password

    from rehang.book import accesslog, members, pins
    from rehang.book.writing import writing

    for person in people:
        member = members.member(person)
        member.pin, member.pin_shown = make_password(pin), ""
        with writing():
            member.save(update_fields=["pin", "pin_shown"])
            accesslog.write(
                what="pin_set", about=person, by=pins.TERMINAL, at=datetime(2026, 1, 1, tzinfo=UTC)
            )
