"""The run card and each run."""
