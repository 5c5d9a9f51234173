"""Benchmarks: ratios against the bare engines, on the same files, in the same run."""
