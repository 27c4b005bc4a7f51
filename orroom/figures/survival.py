"""The distribution of time out of the body at placing.

Grafts that still wait are censored: it is known only that they will have been out longer than now. Which lot
a placed graft came from is known where one lot alone gave its size. Where lots mix, each figure is worked out
for two drawings: every graft from the oldest lot that had one waiting, and every graft from the newest. Where
nothing was given up or divided, no other drawing goes beyond these for the oldest and the newest lot;
otherwise, and for all lots together, one may.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Literal, NamedTuple

from orroom.case.drawing import lots_oldest_first
from orroom.case.events import (
    DishCounted,
    Drawn,
    Entry,
    GraftsCut,
    GraftsDiscarded,
    GraftsDivided,
    GraftsPlaced,
)
from orroom.case.harvests import out_since_ms
from orroom.case.state import CaseState

#: A published series, told beside a case's own times and used for nothing else. Second-hand: read where it is
#: quoted, the citation from memory. Quotations of its points at 6 h and 8 h disagree (86 and 88 %, or 88 and
#: 83 %), so those two are left out.
SURVIVAL_REFERENCE = (
    "reference, not a prediction: of grafts kept in chilled saline at 4 °C, 95 % survived after 2 h, 90 % "
    "after 4 h, 79 % after 24 h, 54 % after 48 h (B. L. Limmer, Micrograft survival, in Stough and Haber, "
    "Hair Replacement: Surgical and Medical, 1996, 147–149, as quoted elsewhere); its points at 6 h and 8 h "
    "are quoted in two ways and left out."
)

HOUR_MS = 3_600_000
QUARTILES = (0.25, 0.5, 0.75)
HOURS = (2, 4, 6)

#: Which lot a graft is taken from: as the entry says, or the oldest or the newest that has one waiting.
Drawing = Literal["as entered", "oldest first", "newest first"]


class Observation(NamedTuple):
    """So many grafts were placed after so long out of the body (ms), or have been out so long and wait."""

    out_ms: int
    grafts: int
    placed: bool


def kaplan_meier(observations: Iterable[Observation]) -> tuple[tuple[int, float], ...]:
    """The share of grafts not yet placed just after each time out of the body (ms) at which some were.

    S(t) = product over times u ≤ t of (1 − placed at u / still out just before u). E. L. Kaplan, P. Meier, J
    Am Stat Assoc 1958;53:457–481 (from memory). Empty when nothing was placed.
    """
    placed: Counter[int] = Counter()
    left: Counter[int] = Counter()
    for each in observations:
        if each.grafts > 0:
            left[each.out_ms] += each.grafts
            if each.placed:
                placed[each.out_ms] += each.grafts
    at_risk = sum(left.values())
    share, curve = 1.0, []
    for out_ms in sorted(left):
        if placed[out_ms]:
            share *= 1 - placed[out_ms] / at_risk
            curve.append((out_ms, share))
        at_risk -= left[out_ms]
    return tuple(curve)


def quantile_ms(curve: Sequence[tuple[int, float]], share: float) -> int | None:
    """The first time out (ms) by which ``share`` of the grafts is placed; ``None`` if it is not reached."""
    return next((out_ms for out_ms, waiting in curve if waiting <= 1 - share + 1e-9), None)


@dataclass(frozen=True, slots=True)
class Between:
    """A figure in the two drawings, the lower first; equal where exact, ``None`` where not reached."""

    low: float | None
    high: float | None


@dataclass(frozen=True, slots=True)
class OutOfBody:
    """One lot, or all lots together (``lot`` is ``None``): times out of the body, grafts, graft-hours.

    ``quartiles_ms`` are of the time out at placing, waiting grafts censored. ``share_over`` is, for 2, 4 and
    6 h, the share of the grafts placed or waiting that were or already have been out for longer. Grafts
    given up or missing are in none of these, nor are lots whose harvest was not entered.
    """

    lot: str | None
    placed: Between
    waiting: Between
    quartiles_ms: tuple[Between, Between, Between]
    longest_placed_ms: Between
    graft_hours: Between
    share_over: tuple[Between, Between, Between]


def out_of_body(state: CaseState, now_ms: int) -> tuple[OutOfBody, ...]:
    """Each lot with a known harvest and a graft placed or waiting, oldest first; then all together."""
    oldest, newest = (observed(state, now_ms, drawing) for drawing in ("oldest first", "newest first"))
    lots = [lot for lot in lots_oldest_first(state.tally) if lot in oldest or lot in newest]
    found = [_told(lot, oldest.get(lot, []), newest.get(lot, [])) for lot in lots]
    if found:
        both = [[each for lot in lots for each in drawn.get(lot, [])] for drawn in (oldest, newest)]
        found.append(_told(None, *both))
    return tuple(found)


def median_out_ms(state: CaseState, now_ms: int) -> dict[str, int | None]:
    """By lot with a known harvest, the time out by which half of it is placed (ms), drawn as entered."""
    drawn = observed(state, now_ms, "as entered")
    return {lot: quantile_ms(kaplan_meier(mine), 0.5) for lot, mine in drawn.items()}


def _told(lot: str | None, oldest: list[Observation], newest: list[Observation]) -> OutOfBody:
    curves = {id(each): kaplan_meier(each) for each in (oldest, newest)}

    def between(figure: Callable[[list[Observation]], float | None]) -> Between:
        values = [figure(oldest), figure(newest)]
        known = [each for each in values if each is not None]
        return Between(min(known, default=None), max(known) if len(known) == len(values) else None)

    def quartile(share: float) -> Between:
        return between(lambda each: quantile_ms(curves[id(each)], share))

    def over_hours(hours: int) -> Between:
        return between(lambda each: _share_over(each, hours))

    quartiles = [quartile(share) for share in QUARTILES]
    over = [over_hours(hours) for hours in HOURS]
    return OutOfBody(
        lot=lot,
        placed=between(lambda each: sum(one.grafts for one in each if one.placed)),
        waiting=between(lambda each: sum(one.grafts for one in each if not one.placed)),
        quartiles_ms=(quartiles[0], quartiles[1], quartiles[2]),
        longest_placed_ms=between(lambda each: max((one.out_ms for one in each if one.placed), default=None)),
        graft_hours=between(lambda each: sum(one.out_ms * one.grafts for one in each) / HOUR_MS),
        share_over=(over[0], over[1], over[2]),
    )


def _share_over(observations: Sequence[Observation], hours: float) -> float | None:
    whole = sum(each.grafts for each in observations)
    if not whole:
        return None
    return sum(each.grafts for each in observations if each.out_ms > hours * HOUR_MS) / whole


def observed(state: CaseState, now_ms: int, drawing: Drawing) -> dict[str, list[Observation]]:
    """The grafts placed or waiting of each lot with a known harvest, under one drawing."""
    since = out_since_ms(state)
    room = _Waiting(lots_oldest_first(state.tally), drawing)
    found: dict[str, list[Observation]] = {}
    for entry in state.standing():
        for lot, count in room.after(entry).items():
            if lot in since:
                out = max(0, entry.stamp.at_ms - since[lot])
                found.setdefault(lot, []).append(Observation(out, count, placed=True))
    for (_, lot), count in room.grafts.items():
        if lot in since and count > 0:
            found.setdefault(lot, []).append(Observation(max(0, now_ms - since[lot]), count, placed=False))
    return found


class _Waiting:
    """The grafts that wait, by size and lot, as entries come and a drawing says where each is from."""

    def __init__(self, lots: Sequence[str], drawing: Drawing) -> None:
        self.lots = lots if drawing == "oldest first" else tuple(reversed(lots))
        self.as_entered = drawing == "as entered"
        self.grafts: Counter[tuple[str, str]] = Counter()

    def after(self, entry: Entry) -> dict[str, int]:
        """Takes one entry in. The grafts that it placed, by lot."""
        match entry.event:
            case GraftsCut(lot=lot, size=size, count=count):
                self.grafts[size, lot] += count
            case DishCounted(lot=lot, size=size, tallied=tallied, found=found):
                self.grafts[size, lot] += found - tallied
            case GraftsDiscarded(size=size, lot=None, drawn=drawn):
                self._taken(size, drawn)
            case GraftsDivided(size=size, into=into, drawn=drawn):
                for lot, count in self._taken(size, drawn).items():
                    for piece in into:
                        self.grafts[piece, lot] += count
            case GraftsPlaced(size=size, drawn=drawn):
                return self._taken(size, drawn)
        return {}

    def _taken(self, size: str, drawn: Sequence[Drawn]) -> dict[str, int]:
        """The lots grafts are taken from. What no lot has waiting is taken from the lot entered."""
        taken: Counter[str] = Counter()
        left = sum(part.count for part in drawn)
        if not self.as_entered:
            for lot in self.lots:
                there = min(left, max(0, self.grafts[size, lot]))
                taken[lot] += there
                left -= there
        for part in reversed(drawn):
            more = min(left, part.count)
            taken[part.lot] += more
            left -= more
        for lot, count in taken.items():
            self.grafts[size, lot] -= count
        return {lot: count for lot, count in taken.items() if count}
