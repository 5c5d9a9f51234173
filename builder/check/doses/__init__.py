"""Doses in exact numbers: what was stated, and the tables that follow from it. Rounded down, and only at the end."""
