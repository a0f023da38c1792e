"""Work found: its price, the owner's word, what it took."""
