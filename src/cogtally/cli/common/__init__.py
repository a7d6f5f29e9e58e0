"""The room common."""
