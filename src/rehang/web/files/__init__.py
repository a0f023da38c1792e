"""What comes in and goes out as a file: tables, photos, paper, labels, the kept folder."""
