"""Calls on readings and verdicts on items."""
