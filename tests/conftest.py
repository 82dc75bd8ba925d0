"""Settings that every test shares."""

from __future__ import annotations

from hypothesis import settings

settings.register_profile("house", deadline=None)  # a first call compiles, and a busy machine is not a fault
settings.load_profile("house")
