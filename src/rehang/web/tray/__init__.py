"""The tray: plugs by hole, the pad, a line, why, and a close call."""
