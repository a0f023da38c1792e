"""What every page stands on: the desk, who may write, the head, the pieces several pages show."""
