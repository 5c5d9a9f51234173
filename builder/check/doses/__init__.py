"""Doses in exact numbers: what was stated, and the tables that follow from it. No rounding but down, and only as asked."""
