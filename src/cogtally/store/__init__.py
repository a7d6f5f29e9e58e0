"""The SQLite book as a file; what its tables mean is left to the rooms that own them."""
