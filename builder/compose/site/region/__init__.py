"""The pages of a region: its hospitals and procedures, local policies side by side, codes, and how the night went."""
