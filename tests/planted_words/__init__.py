"""Errors of wording, side, dose and identity, and their innocent look-alikes, planted into the modules of the demo."""
