"""Tables of an engine monitor: read, drawn, and what they ask."""
