"""The arithmetic of toothed wheels: exact, with no catalog and no I/O."""
