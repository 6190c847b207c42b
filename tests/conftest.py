"""Puts this folder on the path, so that tests share their builders; no test asserts a time."""

from hypothesis import HealthCheck, settings

settings.register_profile(
    "wickstats", deadline=None, suppress_health_check=[HealthCheck.too_slow]
)
settings.load_profile("wickstats")
