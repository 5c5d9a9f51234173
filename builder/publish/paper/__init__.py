"""PDF files."""
