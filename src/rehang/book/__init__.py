"""The book as it is stored: services write, queries read, nothing else touches the tables."""
