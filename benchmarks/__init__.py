"""Benchmarks: speeds as ratios against named alternatives, measured in the same run on the same problem."""
