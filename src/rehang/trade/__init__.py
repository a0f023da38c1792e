"""The trade's words and rules, on plain frozen values.

Nothing here reads a file, a clock, a database or a random number: what happened comes in as
entries, facts come in as parsed sheets, and verdicts come out.
"""
