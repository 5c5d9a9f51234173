"""Evidence tables and the index of sources."""
