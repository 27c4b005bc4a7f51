"""A summary as JSON: keys sorted, moments as RFC 3339 in UTC, durations in milliseconds."""

import json
from typing import Any

import msgspec

from orroom.summary.summary import Summary


def to_json(summary: Summary) -> str:
    """The whole summary, indented, ending with a newline; ``Summary.model_validate_json`` reads it back."""
    return indented(summary.model_dump(mode="json"), sort_keys=True)


def indented(value: object, *, sort_keys: bool = False) -> str:
    """JSON as ``json`` indents it, in a fifth of the time."""
    text = json.dumps(value, sort_keys=sort_keys, ensure_ascii=False, allow_nan=False)
    return msgspec.json.format(text, indent=2) + "\n"


def summary_schema() -> dict[str, Any]:
    """The JSON Schema of that text, with a unit and a few words next to each field."""
    schema = Summary.model_json_schema(mode="serialization")
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **schema}
