"""The state of the work: tasks, parts, places, where each plug goes."""
