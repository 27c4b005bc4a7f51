"""Events as text: one JSON body a row in the case file, one JSON object a line in an events file.

An events file (``events.jsonl``) has one entry a line, in order, UTF-8::

    {"seq":2,"at":"2026-03-05T07:10:00.000Z","station":"cutting-1","tap":1,"who":"AB",
     "kind":"grafts_cut","event":{"lot":"A","size":"2","count":1}}

``kind`` is one of ``orroom.case.events.EVENT_KINDS``; ``event`` has exactly that event's fields, except those
of ``ADDED_LATER`` that hold nothing: so that an entry is written as it was before they came.
"""

import json
import re
from collections.abc import Iterable, Mapping
from functools import cache, lru_cache
from typing import Any, Final, cast

from msgspec import DecodeError, to_builtins
from msgspec.json import Decoder

from orroom.case.events import EVENT_KINDS, AnyEvent, Entry, Event, Stamp
from orroom.case.timestamps import from_utc_stamp, utc_stamp
from orroom.errors import EventsInvalidError
from orroom.record.upgrades import upgraded

LINE_FIELDS = ("seq", "at", "station", "tap", "who", "kind", "event")
#: Fields of events and plans that the first records did not have, left out where they are ``None``.
ADDED_LATER = frozenset(
    {
        "follicles",
        "transected",
        "length_mm",
        "strip_length_mm",
        "slow_tail",
        "out_of_body_hours",
        "outside_minutes",
        "every_minutes",
        "starts",
        "at",
        "once",
        "care_until",
        "open_because",
        "told",
        "confirmed",
        "at_start",
        "left_open",
        "recount_of",
        "lane",
        "by",
        "not_treated",
        "stick_and_place",
        "existing_hairs_per_cm2",
        "upper_arc",
        "least_hairs_per_cm2",
        "most_grafts_per_cm2",
        "least_site_mm",
        "combing_side",
        "raise_share",
        "divided_into",
        "dividing_loss",
        "divide",
        "whose",
        "faults",
        "into_zone",
        "earlier",
        "sessions",
        "after_earlier",
        "version",
    }
)
#: This many stored bodies are known again; of a day's thousands some hundreds differ.
BODIES_KNOWN: Final = 5_000
MAX_DEPTH_HINT = "Use an events file written by orroom export."


#: The types of JSON values, as msgspec names them, in words.
_TYPES: Final = {
    "str": "text",
    "int": "a whole number",
    "float": "a number",
    "bool": "true or false",
    "array": "a list",
    "object": "an object",
    "null": "nothing",
}


@cache
def _decoder(kind: str) -> Decoder[AnyEvent]:
    if kind not in EVENT_KINDS:
        raise ValueError(f"kind {kind!r} is unknown to this version")
    return Decoder(cast(type[AnyEvent], EVENT_KINDS[kind]))


def compact(value: Mapping[str, Any]) -> str:
    """JSON with sorted keys and no spaces: the one text that a value has."""
    return json.dumps(value, sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False)


def body_of(event: Event) -> dict[str, Any]:
    """An event's fields as JSON values, without those of ``ADDED_LATER`` that hold nothing."""
    return cast(dict[str, Any], _written(to_builtins(event)))


def _written(value: Any) -> Any:  # noqa: ANN401  # any JSON value
    if isinstance(value, dict):
        return {
            name: _written(each)
            for name, each in value.items()
            if each is not None or name not in ADDED_LATER
        }
    return [_written(each) for each in value] if isinstance(value, list | tuple) else value


@lru_cache(BODIES_KNOWN)
def event_of(kind: str, body: str) -> AnyEvent:
    """The event that a stored body holds. Raises ``ValueError`` with a plain sentence if it holds none.

    Most bodies of a record are the same few texts: each is decoded once, and entries share its event.
    """
    try:
        return _decoder(kind).decode(upgraded(kind, body))
    except (DecodeError, RecursionError) as wrong:
        raise ValueError(_sentence(kind, str(wrong))) from wrong


def _sentence(kind: str, said: str) -> str:
    """What msgspec finds wrong with an event, in our words."""
    said, _, field = said.partition(" - at `$.")
    if named := re.fullmatch("Object (.*) field `(.*)`", said):
        field = ".".join(each for each in (field.rstrip("`"), named[2]) if each)
        said = "is missing" if "missing" in named[1] else "is not a known field"
    said = re.sub(
        "`([^`]+)`", lambda found: " or ".join(_TYPES.get(kind, kind) for kind in found[1].split(" | ")), said
    )
    said = said.replace("JSON is malformed", "it is not JSON").replace("Expected", "expected")
    return f"{field.rstrip('`') or 'event'} of {kind}: {said}"


def line_of(entry: Entry) -> str:
    """An entry as one line of an events file, without the line end."""
    stamp = entry.stamp
    values = {
        "seq": entry.seq,
        "at": utc_stamp(stamp.at_ms),
        "station": stamp.station,
        "tap": stamp.tap,
        "who": stamp.who,
        "kind": entry.event.kind,
        "event": body_of(entry.event),
    }
    return json.dumps(values, separators=(",", ":"), ensure_ascii=False, allow_nan=False)


def lines_of(entries: Iterable[Entry]) -> str:
    """A whole events file."""
    return "".join(f"{line_of(entry)}\n" for entry in entries)


def entry_of(line: str, where: str) -> Entry:
    """The entry on one line of an events file; ``where`` names file and line in errors.

    Raises ``EventsInvalidError`` for anything but exactly such a line.
    """
    try:
        raw = json.loads(line, parse_constant=_refuse_constant, object_pairs_hook=_without_duplicates)
    except RecursionError as deep:
        raise EventsInvalidError(f"{where}: nested too deeply.", MAX_DEPTH_HINT) from deep
    except ValueError as wrong:
        raise EventsInvalidError(f"{where}: not valid JSON ({wrong}).", MAX_DEPTH_HINT) from wrong
    if not isinstance(raw, dict):
        raise EventsInvalidError(f"{where}: not a JSON object.", f"Each line has {', '.join(LINE_FIELDS)}.")
    _check_fields(raw, where)
    try:
        stamp = Stamp(from_utc_stamp(raw["at"]), raw["station"], raw["tap"], raw["who"])
        return Entry(raw["seq"], stamp, event_of(raw["kind"], json.dumps(raw["event"], ensure_ascii=False)))
    except ValueError as wrong:
        raise EventsInvalidError(f"{where}: {wrong}.", "Nothing was imported.") from wrong


def _check_fields(raw: Mapping[str, object], where: str) -> None:
    missing = [name for name in LINE_FIELDS if name not in raw]
    unknown = [name for name in raw if name not in LINE_FIELDS]
    if missing or unknown:
        what = f"{missing[0]!r} is missing" if missing else f"{unknown[0]!r} is not a known field"
        raise EventsInvalidError(f"{where}: {what}.", f"Each line has {', '.join(LINE_FIELDS)}.")
    for name, wanted, words in (
        ("seq", int, "a whole number"),
        ("tap", int, "a whole number"),
        ("at", str, "text"),
        ("station", str, "text"),
        ("who", str, "text"),
        ("kind", str, "text"),
        ("event", dict, "an object"),
    ):
        if type(raw[name]) is not wanted:
            raise EventsInvalidError(f"{where}: {name} is {raw[name]!r}.", f"It must be {words}.")
    for name in ("seq", "tap"):
        if abs(int(str(raw[name]))) >= 2**63:
            raise EventsInvalidError(f"{where}: {name} is {raw[name]}.", "That is too large for a case file.")


def _refuse_constant(name: str) -> None:
    raise ValueError(f"{name} is not a number")


def _without_duplicates(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    result = dict(pairs)
    if len(result) < len(pairs):
        names = [name for name, _ in pairs]
        twice = next(name for name in names if names.count(name) > 1)
        raise ValueError(f"{twice!r} appears twice in one object")
    return result
