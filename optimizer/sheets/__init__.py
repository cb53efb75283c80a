"""A shop's own sheet to rows of a catalog: tables of any make, headings by likeness, parts out of words, and what changed."""
