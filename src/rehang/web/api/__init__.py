"""The JSON API and the page that says it."""
