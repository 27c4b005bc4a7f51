"""A moment as text, the same in records, exports and summaries."""

from datetime import UTC, datetime


def utc_stamp(at_ms: int) -> str:
    """RFC 3339 in UTC with milliseconds: ``2026-03-05T09:42:07.250Z``."""
    return f"{datetime.fromtimestamp(at_ms // 1000, tz=UTC):%Y-%m-%dT%H:%M:%S}.{at_ms % 1000:03d}Z"


def from_utc_stamp(text: str) -> int:
    """UTC milliseconds of an RFC 3339 time that ends in ``Z``. Raises ``ValueError`` for anything else."""
    if not text.endswith("Z"):
        raise ValueError(f"{text!r} is not a UTC time such as 2026-03-05T09:42:07.250Z")
    at = datetime.fromisoformat(text)
    return round(at.timestamp() * 1000)
