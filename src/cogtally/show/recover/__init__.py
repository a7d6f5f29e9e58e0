"""The room recover."""
