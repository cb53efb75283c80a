"""Frozen, validated objects: ends, parts, catalog, rig, limits, results."""
