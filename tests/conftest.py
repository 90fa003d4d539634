"""What holds for every test."""

from hypothesis import settings

# a slow machine is no failure: nothing here is judged by the wall clock
settings.register_profile("needlewright", deadline=None)
settings.load_profile("needlewright")
