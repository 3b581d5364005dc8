"""Property tests run the same examples every time, however busy the machine is."""

from hypothesis import settings

settings.register_profile("repeatable", deadline=None, derandomize=True)
settings.load_profile("repeatable")
