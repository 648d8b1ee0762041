"""Property tests of the engine have no deadline: a busy machine is no fault of the engine."""

from hypothesis import settings

settings.register_profile("engine", deadline=None)
settings.load_profile("engine")
