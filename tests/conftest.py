"""What holds for every test: no machine is too slow for a law, and a law is tried on the same examples each time."""

from hypothesis import settings

settings.register_profile("drivekit", deadline=None, derandomize=True)
settings.load_profile("drivekit")
