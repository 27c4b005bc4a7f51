"""What is refused, of much that can be asked, and what is wrong with a plan that is no TOML: sentences."""

from __future__ import annotations

import json
import random
from collections.abc import Iterator
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, get_args, get_type_hints

from cases import Record, small_plan
from msgspec.structs import fields

from orroom.case import commands as c
from orroom.case import events as e
from orroom.case.decide import decide
from orroom.case.rules import Refusal
from orroom.errors import OrroomError, Problem
from orroom.files.plan_file import PLAN
from orroom.files.toml_file import parsed
from orroom.record.encoding import lines_of
from orroom.record.events_file import read_events

#: What is asked of each field: what makes sense, and what does not.
ASKED: dict[str, tuple[Any, ...]] = {
    "amount": (None, 0, 3),
    "at_start": (None, True),
    "begun": (None, 1, 84),
    "by": (None, "CD", "cd"),
    "by_ms": (0, 90_000),
    "care": ("wet", "cold", "bench", "shake"),
    "cause": ("burst",),
    "confirmed": (None, ("procedure",), ("none",)),
    "count": (1, 3, 0, 400, 10_001),
    "counted": (False,),
    "divide": (None,),
    "done": ("ice added", " "),
    "entry": (3, 4, 31, 77, 900),
    "fate": ("kept", "left over", "placed extra", "discarded"),
    "fault": (None, "bent", ""),
    "faults": (None, (e.FaultFound(fault="bent", count=9),), (e.FaultFound(fault="", count=1),)),
    "faulty": (0, 2, 50),
    "follicles": (None, 0, 30),
    "found": (0, 7, -1, 20_000),
    "groups": ((), (e.CountedGroup(size="9", harvest="A", place="dish", found=1),)),
    "harvest": ("A", "B", "Z"),
    "in_minutes": (5, -1, 900),
    "informed": (None, "RS"),
    "into": (("1",), ("1", "2"), ("3", "3"), ("9",), ()),
    "into_zone": (None, "MID", "NONE"),
    "keys": (("1",), ()),
    "lane": (None, "a", "c", "z"),
    "left": ("CD", "ZZ", "x"),
    "left_open": ((), (e.LeftOpen(key="no-fate", sentence="x", because="late", informed="RS"),)),
    "length_mm": (None, 14, 0, 900),
    "limit": ("temperature:cold", "none"),
    "looked_at": (10, 0, 3000),
    "minutes": (5, -1, 9000),
    "minutes_ago": (0, -1, 2000, 1e12),
    "mismatch": ("counted:2:B", "none"),
    "more": (0,),
    "on": (True, False),
    "open_because": (None, "in a hurry", " "),
    "people": (2, -1, 40),
    "place": ("dish", "bench"),
    "plan": (small_plan(), small_plan(case="OTHER"), small_plan(zones=small_plan().zones[:1])),
    "reason": (None, "typed twice", "dried", ""),
    "recount_of": (None, 5),
    "role": ("cutting", "placing", "overview"),
    "second": ("EF", "AB", "x"),
    "since": (None, 1, 900),
    "size": ("1", "2", "9"),
    "subject": ("cutting", "placing"),
    "tallied": (None, 5),
    "tap": (1, 900),
    "temperature_c": (None, 4.0, 99.0),
    "text": ("a line", "", "x" * 201, "a\nb"),
    "transected": (None, 3, 50),
    "utc_offset_minutes": (0,),
    "version": ("1.0", "odd"),
    "whose": (None, "GH", "gh"),
    "work": ("cutting", "placing", None),
    "zone": ("LINE", "FRONT", "NONE", None),
}
#: So many ways of asking each command.
WAYS = 150


def refusals(days: dict[str, Record]) -> Iterator[str]:
    """By day, each sentence once, below the name of its rule."""
    for name, record in days.items():
        found: dict[str, set[str]] = {}
        for refused in _refused(record):
            found.setdefault(refused.rule, set()).add(str(refused))
        yield f"—— {name}"
        for rule in sorted(found):
            yield rule
            yield from (f"  {sentence}" for sentence in sorted(found[rule]))


def _refused(record: Record) -> Iterator[Refusal]:
    for kind in sorted(_commands(c.Command), key=lambda kind: kind.__name__):
        drawn, hints = random.Random(kind.__name__), get_type_hints(kind)
        pool = {
            name: [value for value in ASKED[name] if value is not None or type(None) in get_args(hints[name])]
            for name in (each.name for each in fields(kind))
        }
        for _ in range(WAYS):
            asked = {name: drawn.choice(values) for name, values in pool.items()}
            answer = decide(record.state, kind(**asked), record.stamp("AB", "cutting-1"))
            if isinstance(answer, Refusal):
                yield answer


def _commands(kind: type[c.Command]) -> Iterator[type[c.Command]]:
    """The commands of the case, not those that only a screen knows."""
    below = [each for each in kind.__subclasses__() if each.__module__ == c.__name__]
    if kind not in (c.Command, c.TakeGrafts, c.TellDifference):
        yield kind
    for each in below:
        yield from _commands(each)


#: What is no TOML, each for a reason of its own.
NO_TOML = (
    *("a = 1\na = 2", "[a]\n[a]", "a = {b = 1}\n[a.c]", "a = {b = 1, b = 2}", "a.b = 1\n[a]\nc=1", "a"),
    *("a = ", "a = 1 b = 2", "a = [1 2]", "a = [1,", "a = {b = 1", "a = {b = 1,\nc = 2}", "[a", "[[a]", "[]"),
    *("= 1", "?", 'a = "x', 'a = """x', "a = 'x", "a = '''x", 'a = "x\ny"', "a = 'x\n'", '"a = 1', 'a = "\\'),
    *("\x01", "# \x01", 'a = "x\x01y"', "a = 'x\x01'", 'a = "\\q"', 'a = "\\u12"', 'a = "\\ud800"'),
    *("a = 2026-13-45", "a = yes", "a = 1e", "[a]\n[[a]]", "a = [1]\n[[a]]", "a = \xe9"),
    *("a = " + "9" * 5000, "a = " + "[" * 3000),
)


def no_toml() -> Iterator[str]:
    """What is said of each."""
    for each in NO_TOML:
        wrong = parsed(each.encode("latin-1"), PLAN)
        yield f"{each[:30]!r}\n  {wrong if isinstance(wrong, Problem) else 'is TOML'}"


def bad_entries(record: Record) -> Iterator[str]:
    """What is said of an events file in whose line a field is missing, unknown, or of another kind."""
    good = json.loads(lines_of(record.state.log).splitlines()[0])
    bad = [{name: value for name, value in good.items() if name != gone} for gone in good]
    bad += [{**good, name: wrong} for name in good for wrong in (None, 2.5, "odd", {}, 2**63)]
    bad += [{**good, "more": 1}, {**good, "event": {**good["event"], "more": 1}}]
    with TemporaryDirectory() as folder:
        path = Path(folder) / "events.jsonl"
        for each in bad:
            path.write_text(json.dumps(each) + "\n", "utf-8")
            try:
                read_events(path)
            except OrroomError as wrong:
                yield str(wrong).replace(f"{folder}/", "")
