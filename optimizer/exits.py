"""Exit statuses of the command, and what is said where it ends before anything is known."""

__all__ = ["ANSWER", "BAD_INPUT", "NOTHING_KNOWN", "NO_BUNDLE", "STOPPED"]

ANSWER, BAD_INPUT, NO_BUNDLE, STOPPED = 0, 1, 2, 3
NOTHING_KNOWN = "Stopped before there was any answer."
