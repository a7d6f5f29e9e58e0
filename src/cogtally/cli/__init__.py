"""The command line: parse, call one function, show its result."""
