"""The room turning."""
