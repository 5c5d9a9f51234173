"""Edits of one file's text: what is not edited stays byte for byte, comments and order too.

An edit is spliced in by the marks of the YAML nodes, and the result is read back: other data than wanted means that
nothing is changed. Values are compared as the form showed them, so an untouched field is never written. Entries of
lists carry where they came from, so comments move with what they belong to.
"""
