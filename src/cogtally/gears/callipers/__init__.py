"""The room callipers."""
