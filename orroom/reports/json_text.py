"""A summary as JSON: keys sorted, moments as RFC 3339 in UTC, durations in milliseconds."""

from __future__ import annotations

import json

from orroom.reports.summary import Summary


def to_json(summary: Summary) -> str:
    """The whole summary, indented, ending with a newline; ``Summary.model_validate_json`` reads it back."""
    told = summary.model_dump(mode="json")
    return json.dumps(told, indent=2, sort_keys=True, ensure_ascii=False, allow_nan=False) + "\n"
