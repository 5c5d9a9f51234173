"""The commands of ``prescrub``, one module a command.

Each has ``add(parsers)``, which says how it is called, and ``run(arguments)``, which returns the exit code.
"""
