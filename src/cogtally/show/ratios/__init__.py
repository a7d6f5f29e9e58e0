"""The room ratios."""
