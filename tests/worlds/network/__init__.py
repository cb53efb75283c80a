"""Flows of any network of pipes by Newton's method on the heads of its nodes: a second way to the flow of a loop."""
