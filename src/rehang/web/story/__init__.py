"""The story of an item, and what comes due in the fleet."""
