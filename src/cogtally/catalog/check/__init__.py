"""The room check."""
