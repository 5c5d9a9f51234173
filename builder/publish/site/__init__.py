"""The files of the site."""
