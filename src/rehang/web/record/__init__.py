"""The records, what they wait for, what was signed and what comes due."""
