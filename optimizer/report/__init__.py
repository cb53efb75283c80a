"""Answers made readable: text for a terminal and the bill as CSV. Only renders; nothing here solves or opens a file."""
