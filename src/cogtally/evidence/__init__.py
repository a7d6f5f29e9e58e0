"""What the tool says about identity: exact probabilities from one model."""
