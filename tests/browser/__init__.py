"""Tests that drive a real browser against the live board."""
