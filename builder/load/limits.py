"""Bounds on what is read: far above any honest module, far below what harms the machine."""

MAX_TEXT_BYTES = 512 * 1024
MAX_SOURCES_BYTES = 32 * 1024 * 1024
MAX_FIGURE_BYTES = 16 * 1024 * 1024
MAX_NESTING = 24
MAX_VALUES = 20_000
MAX_FILES = 200_000
