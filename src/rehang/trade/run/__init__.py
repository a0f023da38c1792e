"""Ground runs: the air of the day, the walk, what they prove and what they accuse."""
