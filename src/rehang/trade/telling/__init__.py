"""What a book says in words: on a page, a sheet, a tag, a record to sign."""
