"""A case's entries without what could name anybody: what an archive keeps of them.

Only the columns below are kept, each filled from a field named here; a field that is not named, or comes with
a later version, stays out. Initials are numbered case by case, harvests and zones by their order in the plan.
No free text, no name of a plan, harvest, zone, station or care round, no date: times count from the opening.
"""

from collections.abc import Iterator
from functools import cache
from typing import Final, get_args

from msgspec import Struct

from orroom.case import events as e
from orroom.case.plan import Plan
from orroom.case.state import CaseState
from orroom.case.terms import DISCARD_REASONS, ROLES, SIZE_KEYS, WORKS, CheckSubject, Place
from orroom.case.timestamps import utc_stamp

COLUMNS: Final = {
    "case_id": "VARCHAR",
    "seq": "INTEGER",
    "at_utc": "TIMESTAMP WITH TIME ZONE",  # null unless dates are kept
    "after_ms": "BIGINT",  # since the case was opened, in whole seconds
    "role": "VARCHAR",  # of the station; "desk" for any other
    "person": "INTEGER",  # in the order of their first entries
    "kind": "VARCHAR",
    "stands": "BOOLEAN",  # false: cancelled by a correction
    "corrects": "INTEGER",  # the entry that this one cancels, or the placing that it moves
    "lot": "INTEGER",  # its harvest, as the first archives called it
    "size": "VARCHAR",
    "divided_into": "VARCHAR",
    "zone": "INTEGER",
    "zone_kind": "VARCHAR",
    "place": "VARCHAR",
    "count": "INTEGER",
    "discard_reason": "VARCHAR",
    "hairs_lost": "DOUBLE",
    "harvested_after_ms": "BIGINT",  # the same; below 0 if it began before
    "segment": "INTEGER",
    "length_mm": "DOUBLE",
    "care_kind": "VARCHAR",
    "temperature_c": "DOUBLE",
    "subject": "VARCHAR",
    "looked_at": "INTEGER",
    "faulty": "INTEGER",
    "follicles": "INTEGER",
    "transected": "INTEGER",
    "work": "VARCHAR",
    "people": "INTEGER",
    "tallied": "INTEGER",
    "found": "INTEGER",
}

_NUMBERS: Final = (
    "count",
    "hairs_lost",
    "segment",
    "length_mm",
    "temperature_c",
    "looked_at",
    "faulty",
    "follicles",
    "transected",
    "people",
    "tallied",
    "found",
)
#: Words that are kept as they are, because they are ours.
_WORDS: Final[dict[str, frozenset[str]]] = {
    "size": frozenset(SIZE_KEYS),
    "place": frozenset(get_args(Place)),
    "subject": frozenset(get_args(CheckSubject)),
    "work": frozenset(WORKS),
}


_NOTHING: Final[dict[str, object]] = dict.fromkeys(COLUMNS)


@cache
def _kept_of(kind: type[Struct]) -> tuple[list[str], list[str]]:
    """Which numbers and which words of a kind of entry are kept."""
    numbers, words = ([each for each in names if hasattr(kind, each)] for names in (_NUMBERS, _WORDS))
    return numbers, words


def anonymous_entries(state: CaseState, case_id: str, *, keep_dates: bool) -> Iterator[dict[str, object]]:
    """A row for each entry of an opened case, in order."""
    opened_at_ms = state.log[0].stamp.at_ms
    people: dict[str, int] = {}
    places = _Numbers()
    for entry in state.log:
        stamp, event = entry.stamp, entry.event
        if isinstance(event, e.CaseOpened | e.PlanRevised):
            places.learn(event.plan)
        numbers, words = _kept_of(type(event))
        yield {
            **_NOTHING,
            **{name: getattr(event, name) for name in numbers},
            **{name: _ours(getattr(event, name), _WORDS[name]) for name in words},
            **_particular(event, opened_at_ms),
            **places.of(event),
            "case_id": case_id,
            "seq": entry.seq,
            "at_utc": utc_stamp(stamp.at_ms) if keep_dates else None,
            "after_ms": _whole_seconds(stamp.at_ms - opened_at_ms),
            "role": next((role for role in ROLES if stamp.station.startswith(f"{role}-")), "desk"),
            "person": people.setdefault(e.doer(entry), len(people) + 1),
            "kind": event.kind,
            "stands": state.stands(entry),
        }


def _particular(event: e.AnyEvent, opened_at_ms: int) -> dict[str, object]:
    """What one kind of event has and others have not, or mean otherwise."""
    match event:
        case e.EntryCorrected(entry=entry) | e.PlacingMoved(entry=entry):
            return {"corrects": entry}
        case e.GraftsDiscarded(reason=reason):
            return {"discard_reason": _ours(reason, frozenset(DISCARD_REASONS))}
        case e.GraftsDivided(into=into):
            return {"divided_into": "+".join(size for size in into if size in SIZE_KEYS)}
        case e.HarvestStarted(started_at_ms=started_at_ms):
            return {"harvested_after_ms": _whole_seconds(started_at_ms - opened_at_ms)}
    return {}


def _whole_seconds(ms: int) -> int:
    """Without its milliseconds, which could be found again in any log of that machine."""
    return ms - ms % 1000


class _Numbers:
    """Harvests and zones by number, in the order in which the plans of a case first had them."""

    def __init__(self) -> None:
        self._harvests: dict[str, int] = {}
        self._zones: dict[str, int] = {}
        self._plan: Plan | None = None

    def learn(self, plan: Plan) -> None:
        """Take in a plan."""
        self._plan = plan
        for harvest in plan.harvest_by_key:
            self._harvests.setdefault(harvest, len(self._harvests) + 1)
        for zone in plan.zones:
            self._zones.setdefault(zone.key, len(self._zones) + 1)

    def of(self, event: e.AnyEvent) -> dict[str, object]:
        """The numbers of an event's harvest and zone, and the kinds of its zone and care round."""
        harvest, zone, care = (getattr(event, name, None) for name in ("harvest", "zone", "care"))
        zone = zone or getattr(event, "into_zone", None)
        where = None if self._plan is None else self._plan.zone_by_key.get(zone or "")
        given = None if self._plan is None else self._plan.care_by_key.get(care or "")
        return {
            "lot": self._harvests.get(harvest or ""),
            "zone": self._zones.get(zone or ""),
            "zone_kind": where and where.kind,
            "care_kind": given and given.kind,
        }


def _ours(word: object, words: frozenset[str]) -> str | None:
    return word if isinstance(word, str) and word in words else None
