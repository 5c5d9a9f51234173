"""What changed between two editions, told step by step and in words; what a committee is shown and changed in it."""
