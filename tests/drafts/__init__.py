"""Drafts from five sources of our own, three more that were held out, and hostile files."""
