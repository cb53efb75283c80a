"""`python -m optimizer` is the command `fullbore`."""

from optimizer.cli_start import entry

if __name__ == "__main__":
    entry()
