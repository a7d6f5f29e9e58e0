"""The room drawing."""
