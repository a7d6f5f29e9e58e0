"""The room train."""
