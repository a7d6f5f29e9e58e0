"""The room batch."""
