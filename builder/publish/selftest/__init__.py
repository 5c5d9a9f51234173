"""Packages of the self-test."""
