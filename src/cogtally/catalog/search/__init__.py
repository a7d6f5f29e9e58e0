"""The room search."""
