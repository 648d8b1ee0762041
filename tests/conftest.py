"""For all tests: a busy machine does not make a property wrong."""

from hypothesis import settings

settings.register_profile("boiloff", deadline=None)
settings.load_profile("boiloff")
