"""The department's year: what is due, what is missing, what is in circulation, and who may do which step."""
