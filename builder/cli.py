"""The command line: what each command is called with, and what it returns.

Exit codes: 0 nothing blocks, 1 errors found, 2 called wrongly, 3 the tool itself failed.
"""
