"""The room labels."""
