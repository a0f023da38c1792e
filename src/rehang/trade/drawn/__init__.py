"""Charts and drawings as plain values."""
