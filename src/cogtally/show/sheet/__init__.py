"""The room sheet."""
