"""Writing: one way to write files, whole or not at all."""
