"""The web app."""

from django.apps import AppConfig


class WebConfig(AppConfig):
    """Pages of the bench; it has no tables."""

    name = "rehang.web"
    label = "web"
