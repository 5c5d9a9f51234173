"""The pocket card, its sheets and booklet, and the cards of all ways."""
