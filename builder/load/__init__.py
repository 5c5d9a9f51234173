"""Stage 1, load: files become text, places and trees of plain values. The only stage that reads what was written."""
