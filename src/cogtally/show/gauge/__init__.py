"""The room gauge."""
