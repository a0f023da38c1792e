"""A part over the years: its story, how it wears, whether it lasts, keep or renew."""
