"""What is looked for in every book, what explains each page, and the first walk over the demo."""
