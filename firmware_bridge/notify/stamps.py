"""Instants as the standard library has them."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


def utc_of(at_ms: int) -> datetime:
    """An instant as a datetime in UTC."""
    return EPOCH + timedelta(milliseconds=at_ms)
