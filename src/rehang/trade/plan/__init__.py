"""The plan of what is left."""
