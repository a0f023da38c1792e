"""The book app."""

from django.apps import AppConfig


class BookConfig(AppConfig):
    """The tables of the book, and the system checks on where they are kept."""

    name = "rehang.book"
    label = "book"

    def ready(self) -> None:
        from rehang.book import checks, door  # noqa: F401  (they register themselves)
