"""The self-test and its package for a learning system."""
