"""The ``rehang`` command."""
