"""The version of the program."""

__all__ = ["version"]


def version() -> str:
    """The version that is installed, or words that say that none is."""
    from importlib import metadata  # slow to load

    try:
        return metadata.version("fullbore")
    except metadata.PackageNotFoundError:
        return "(run from its source, not installed)"
