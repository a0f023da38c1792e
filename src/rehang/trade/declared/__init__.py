"""How a file of facts is declared, read, told of and published."""
