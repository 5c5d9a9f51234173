"""prescrub: a surgeon's steps, cautions and aftercare, proved and published.

Stages, each importing only from those before it: load, model, check, compose, publish, readback.
"""

__version__ = "0.1.0"
