"""What was seen on one box: as typed, by the names of a catalog, and as likelihoods."""
