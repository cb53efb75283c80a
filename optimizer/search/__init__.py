"""Exact search for the best bundle: choices, joints, stacks, pricing, rounds, proof."""
