"""The room report."""
