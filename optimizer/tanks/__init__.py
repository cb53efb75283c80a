"""Several tanks under one budget, and the shelf of a shop."""
