"""Stage 6, read back: each finished file is opened again, and what it shows is proved against what was composed."""
