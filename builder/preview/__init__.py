"""The preview: a department's pages and cards, with what was found beside them, while somebody writes.

One worker owns the state and makes it anew whenever a file is saved; what answers the browser reads the newest frozen
state. Reached on loopback only, by whoever holds the address printed on the terminal (``gate.py``).
"""
