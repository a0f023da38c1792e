"""Unsafe changes to the finished demo, by topic: each module holds ``CASES``."""
