"""What is found: the one form every finding has."""
