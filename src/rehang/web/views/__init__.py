"""Views, one module a place."""
