"""Edits of one file's text: what is not edited stays byte for byte, comments and order too."""
