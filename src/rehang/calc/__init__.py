"""Numbers in, numbers out: the calculations, in SI units, on numpy and scipy only.

Nothing in here reads a file, a clock or a random number, and nothing in here knows the
trade's words. Each public function names its source and where it is checked.
"""
