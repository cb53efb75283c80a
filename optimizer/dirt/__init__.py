"""Dirt over time: what is caught where, what that costs in flow, when it is too much, and what bacteria need."""
