"""Shared test set-up: hypothesis repeats itself exactly and has no deadline."""

from __future__ import annotations

from hypothesis import HealthCheck, settings

settings.register_profile(
    "house",
    derandomize=True,
    deadline=None,
    database=None,
    max_examples=60,
    suppress_health_check=[HealthCheck.too_slow],
)
settings.load_profile("house")
