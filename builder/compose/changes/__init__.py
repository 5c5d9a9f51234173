"""What changed between two editions of a procedure, told step by step and in words."""
