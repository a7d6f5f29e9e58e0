"""The room screen."""
