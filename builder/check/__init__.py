"""Stage 3, check: does it hold together? Every check reads the Library and yields what it found."""
