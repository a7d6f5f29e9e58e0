"""The judge of the evidence: a slow and plain second way to every probability.

It shares no code with the program; the tests that compare the two stand beside the program's own.
"""
