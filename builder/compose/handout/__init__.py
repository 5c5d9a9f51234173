"""The A4 handout."""
