"""What the templates say by name."""
