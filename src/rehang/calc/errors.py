"""What a calculation raises when it is asked for something it cannot answer."""


class CoreError(Exception):
    """Root of what the functional core raises; its text may be shown to the user."""


class OutOfRange(CoreError, ValueError):
    """An input is outside what the source of the calculation covers."""
