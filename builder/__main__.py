"""Lets ``python -m builder`` stand for ``prescrub``."""

import sys

from builder.cli import main

if __name__ == "__main__":
    sys.exit(main())
