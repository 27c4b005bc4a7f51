"""What is left at the end of a case and what became of it, as text; and fates as they are typed."""

from collections.abc import Iterator
from difflib import get_close_matches
from typing import Final

from msgspec import Struct

from orroom.case.final_count import Group, waiting_by_group
from orroom.case.plan import Plan
from orroom.case.state import CaseState
from orroom.case.terms import FATES, PLACES, Fate, size_named
from orroom.figures.wording import grafts, several
from orroom.words.columns import columns
from orroom.words.entries import harvest_label, size_label, zone_label

#: Each fate in one word, as it is typed on the command line.
TYPED: Final[dict[str, Fate]] = {
    "kept": "kept",
    "left-over": "left over",
    "returned": "returned to donor",
    "discarded": "discarded",
    "placed": "placed extra",
}
#: In the place of a group's key: every group.
ALL: Final = "all"


class Given(Struct, frozen=True):
    """A fate as it was typed: for a group (``None``: all), of how many (``None``: all of it), where to."""

    group: Group | None
    count: int | None
    fate: Fate
    zone: str | None


def key_of(group: Group) -> str:
    """A group as it is typed: ``dish:2:A``."""
    return f"{group.place}:{group.size}:{group.harvest}"


def waiting(state: CaseState) -> dict[Group, int]:
    """What is left without a fate, group by group."""
    return {group: count for group, count in waiting_by_group(state.tally).items() if count > 0}


def fates_overview(state: CaseState) -> str:
    """What is left without a fate, by the key that it is typed with, and the fates that were entered."""
    plan, left = state.plan, waiting(state)
    parts = []
    if left:
        rows = [[key_of(group), *_named(plan, group), grafts(count)] for group, count in left.items()]
        head = ["key", "size", "harvest", "where", "grafts"]
        parts.append(f"Left without a fate: {several(sum(left.values()), 'graft')}")
        parts.append(columns(head, rows, words=4))
    else:
        parts.append("No graft is left without a fate.")
    if state.tally.fates:
        parts += ["Fates", columns(["fate", "size", "harvest", "where", "grafts"], _fates(state), words=4)]
    if extra := state.tally.extra:
        where = ", ".join(
            f"{grafts(count)} {size_named(size, count)} in {zone_label(plan, zone)}"
            for (zone, size), count in sorted(extra.items())
        )
        parts.append(f"Placed beyond the plan: {where}.")
    return "\n".join(parts)


def _fates(state: CaseState) -> list[list[str]]:
    return [
        [FATES[fate], *_named(state.plan, Group(size, harvest, place)), grafts(count)]
        for (size, harvest, place, fate), count in sorted(state.tally.fates.items())
    ]


def _named(plan: Plan, group: Group) -> Iterator[str]:
    yield size_label(plan, group.size)
    yield harvest_label(plan, group.harvest)
    yield PLACES[group.place]


def given(text: str, state: CaseState) -> Given:
    """A fate as it is typed: ``KEY=[COUNT] FATE [ZONE]``. Raises ``ValueError`` with what would be right."""
    key, _, rest = (part.strip() for part in text.partition("="))
    words = rest.split()
    count = int(words.pop(0)) if words and words[0].isdecimal() else None
    fate, *zone = words or [""]
    groups = {key_of(group): group for group in waiting(state)}
    if fate not in TYPED or len(zone) > 1:
        near = get_close_matches(fate, TYPED, 1)
        meant = f" Did you mean {near[0]!r}?" if near else ""
        raise ValueError(
            f"give KEY=[COUNT] FATE [ZONE], and one of {', '.join(TYPED)} as FATE; not {text!r}.{meant}"
        )
    if key != ALL and key not in groups:
        raise ValueError(f"no group {key!r} is left without a fate. Left: {', '.join(groups) or 'nothing'}")
    if key == ALL and count is not None:
        raise ValueError(f"a number goes with one group, not with {ALL!r}: {text!r}")
    if (TYPED[fate] == "placed extra") is not bool(zone) or not set(zone) <= set(state.plan.zone_by_key):
        zones = ", ".join(state.plan.zone_by_key)
        raise ValueError(f"a zone goes with 'placed', and only with it; zones: {zones}; not {text!r}")
    left = groups[key] if key != ALL else None
    if left is not None and count is not None and not 1 <= count <= waiting(state)[left]:
        raise ValueError(f"{key} has {grafts(waiting(state)[left])}; give 1 to that many, not {count:,}")
    return Given(left, count, TYPED[fate], zone[0] if zone else None)
