"""The board: where the job stands, the bench, what is handed over, the book and its read back."""
