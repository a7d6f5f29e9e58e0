"""The laws of the evidence model: what is seen, given what is true, and what is not known."""
