"""PINs of the people in tests of what is settled."""

from datetime import UTC, datetime

PIN = "480713"


def give_pins(*people: str) -> None:
    """Give these people the PIN of the tests, as at the machine's own terminal."""
    from rehang.book import pins

    for person in people:
        pins.set_pin(person=person, pin=PIN, by=pins.TERMINAL, at=datetime(2026, 1, 1, tzinfo=UTC))
