"""One item: a plug, a cylinder, any other part, what is read on it, and the engine they make."""
