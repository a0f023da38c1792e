"""What is on file, thing by thing: each seen and changed on a page made from its declaration."""
