"""The room box."""
