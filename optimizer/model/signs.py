"""What a keeper hears and sees of a filter that ails, in the words of a rig file."""

RATTLE, BUBBLES, TILTING = "rattle", "bubbles", "better when tilted"
SUDDEN, CREEPING = "sudden", "creeping"

SIGNS = (RATTLE, BUBBLES, TILTING, SUDDEN, CREEPING)
"""A rattle or gurgle of the pump, bubbles at the outlet, a flow that comes back for a while when the canister is tilted, and how
it came: from one day to the next, or over weeks."""
