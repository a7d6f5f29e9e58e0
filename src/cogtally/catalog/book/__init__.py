"""The room book."""
