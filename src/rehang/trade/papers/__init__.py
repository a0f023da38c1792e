"""What is signed, and what comes due next."""
