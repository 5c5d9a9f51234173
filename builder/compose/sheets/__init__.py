"""Sheets for theatre and for the patient."""
