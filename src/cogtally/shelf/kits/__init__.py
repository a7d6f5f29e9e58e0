"""The room kits."""
