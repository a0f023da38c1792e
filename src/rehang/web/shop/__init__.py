"""The shop: its door, its people, its limits and its meters."""
