"""The pocket card, its sheets, the cards of all ways, and the phone card."""
