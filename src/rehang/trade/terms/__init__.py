"""The words everything else is written in: entries, quantities, sentences, refusals."""
