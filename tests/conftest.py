"""Property tests draw the same examples in every run, so that what passes once passes again, also on a busy machine."""

from hypothesis import settings

settings.register_profile("same every time", derandomize=True, deadline=None)
settings.load_profile("same every time")
