"""The room changes."""
