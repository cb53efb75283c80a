"""Figures of a report, one file each: what they show in words and numbers, and how they are drawn."""
