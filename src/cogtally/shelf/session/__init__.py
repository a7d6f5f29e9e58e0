"""The room session."""
