"""What the book comes to: each item as it stands, what is fitted, torqued, doubted, promised."""
