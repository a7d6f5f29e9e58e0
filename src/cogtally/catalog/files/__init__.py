"""The room files."""
