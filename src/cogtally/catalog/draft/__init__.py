"""The room draft."""
