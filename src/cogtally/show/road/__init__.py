"""The room road."""
