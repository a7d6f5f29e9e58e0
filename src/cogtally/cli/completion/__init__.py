"""The room completion."""
