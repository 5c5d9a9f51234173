"""What the program keeps between runs."""
