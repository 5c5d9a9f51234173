"""Proves on a finished page that the QR code can be read: its modules, its size and its quiet zone."""
