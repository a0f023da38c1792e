"""The book app."""

from django.apps import AppConfig


class BookConfig(AppConfig):
    """The tables of the book, and the system checks on where they are kept."""

    name = "rehang.book"
    label = "book"

    def ready(self) -> None:
        from rehang.book import checks  # noqa: F401  (registers the system checks)
