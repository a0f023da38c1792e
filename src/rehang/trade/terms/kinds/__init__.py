"""The kinds of entry: one class for each, by what it is about."""
