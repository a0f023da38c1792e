"""What comes in by any door, and what goes out as plain values."""
