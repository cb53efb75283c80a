"""Answers that take two rooms: files together with what is solved, or what is solved together with its words."""
