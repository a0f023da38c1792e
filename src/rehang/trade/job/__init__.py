"""A whole job judged, and what it waits on."""
