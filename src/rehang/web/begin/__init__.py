"""How a shop begins, and a job in it."""
