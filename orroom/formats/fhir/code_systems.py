"""The code systems of our own that a bundle uses, with the codes it uses, so that it explains itself."""

import re
from collections import defaultdict
from collections.abc import Iterator, Mapping
from typing import Any, Final

from orroom.formats.fhir import resources as fhir
from orroom.formats.fhir.resources import Json, Telling

#: What each system is for, by the word after ``urn:orroom:``.
PURPOSES: Final = {
    "figure": "What orroom counts and measures",
    "size": "Graft sizes",
    "zone": "Recipient zones of the plan of this case",
    "record": "Marks of a record",
}


def code_systems(t: Telling, made: Mapping[str, Json]) -> dict[str, Json]:
    """One for each system of ours in the resources ``made``, by name; the codes in their order."""
    used: defaultdict[str, dict[str, str]] = defaultdict(dict)
    for coding in _codings(list(made.values())):
        used[coding["system"]].setdefault(coding["code"], coding["display"])
    systems = {}
    for system, codes in used.items():
        purpose = PURPOSES[system.split(":")[2]]
        name = f"codes:{system}"
        words = re.sub("[^A-Za-z0-9]+", "_", system.removeprefix("urn:orroom:"))
        systems[name] = {
            **t.begun("CodeSystem", name),
            "text": fhir.narrative([purpose], (f"{code}: {shown}" for code, shown in codes.items())),
            "url": system,
            "name": f"Orroom_{words}",
            "title": purpose,
            "status": "active",
            "caseSensitive": True,
            "content": "fragment",
            "concept": [{"code": code, "display": shown} for code, shown in codes.items()],
        }
    return systems


def _codings(value: Any) -> Iterator[Json]:  # noqa: ANN401 - any JSON value
    if isinstance(value, dict):
        if str(value.get("system")).startswith("urn:orroom:") and "code" in value:
            yield value
        value = list(value.values())
    for each in value if isinstance(value, list) else ():
        yield from _codings(each)
