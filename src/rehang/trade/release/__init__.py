"""What keeps an engine from service or from being started."""
