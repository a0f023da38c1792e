"""Rehang: the bench book for a removed piston aircraft engine."""

__version__ = "0.1.0"
