"""The mark on a card or handout: the short code as text, and as a QR code of its status page."""
