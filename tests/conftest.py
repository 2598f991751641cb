"""What holds for every test."""

from __future__ import annotations

from hypothesis import settings

# a busy machine is no fault of the code: time is measured by the benchmarks
settings.register_profile("by work, not by the clock", deadline=None)
settings.load_profile("by work, not by the clock")
