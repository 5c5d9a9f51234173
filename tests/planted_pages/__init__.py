"""Errors and look-alikes in whole pages: prose against actions, cautions, aftercare, sides."""
