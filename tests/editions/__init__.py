"""Editions, issued codes and their status pages."""
