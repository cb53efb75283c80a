"""Figures of a report, one file each: what they show in words and numbers, and drawn by matplotlib, which loads only then."""
