"""Stage 5, publish: documents become files. Nothing is half written."""
