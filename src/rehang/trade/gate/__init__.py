"""What may be written in a book, whoever writes it and whichever door it comes through."""
