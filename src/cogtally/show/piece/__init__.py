"""The room piece."""
