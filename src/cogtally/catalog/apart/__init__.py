"""The room apart."""
