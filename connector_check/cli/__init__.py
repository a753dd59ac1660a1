"""The command line: thin commands that parse, call one function and show its record."""
