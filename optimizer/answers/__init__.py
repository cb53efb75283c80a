"""Questions and their answers: turns what the search found into results a keeper can check."""
