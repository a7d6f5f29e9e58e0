"""The room catalog."""
