"""Shared set-up: tests are reproducible and never timed."""

from __future__ import annotations

from hypothesis import settings

settings.register_profile("carwright", deadline=None, derandomize=True, max_examples=100)
settings.load_profile("carwright")
