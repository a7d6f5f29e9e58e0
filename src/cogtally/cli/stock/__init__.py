"""The room stock."""
