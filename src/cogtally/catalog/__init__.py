"""What is known: families, their sets and the types of their pieces."""
