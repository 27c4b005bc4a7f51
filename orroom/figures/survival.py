"""The distribution of time out of the body at placing.

Grafts that still wait are censored: it is known only that they will have been out longer than now. Which
harvest a placed graft came from is known where one harvest alone gave its size; elsewhere these figures take
the harvests as the tally drew them, and ``out_of_body`` says between which bounds the truth is.
"""

from collections import Counter
from collections.abc import Iterable, Sequence
from typing import Generic, NamedTuple, TypeVar

from orroom.case.harvests import out_since_ms
from orroom.case.state import CaseState
from orroom.figures.counts import USABLE
from orroom.figures.holding import placings_out

#: A published series, shown with a case's own times and used for nothing else. Second-hand: read where it is
#: quoted, the citation from memory. Quotations of its points at 6 h and 8 h disagree (86 and 88 %, or 88 and
#: 83 %), so those two are left out.
SURVIVAL_REFERENCE = (
    "reference, not a prediction: of grafts kept in chilled saline at 4 °C, 95 % survived after 2 h, 90 % "
    "after 4 h, 79 % after 24 h, 54 % after 48 h (Hair Replacement: Surgical and Medical, 1996, pages "
    "147–149; not verified). 6 h and 8 h are omitted: sources disagree."
)

Figure = TypeVar("Figure", bound=float | None)
HOUR_MS = 3_600_000
QUARTILES = (0.25, 0.5, 0.75)
HOURS = (2, 4, 6)
#: Counts are compared with shares of counts; so much is left to rounding.
CLOSE = 1e-9


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
    return next((out_ms for out_ms, waiting in curve if waiting <= 1 - share + CLOSE), None)


class Between(NamedTuple, Generic[Figure]):
    """The least and the most that a figure may be; ``None`` where it is not reached."""

    low: Figure
    high: Figure


class Times(NamedTuple):
    """Grafts placed and waiting, times out of the body (ms), graft-hours, shares out over so many hours."""

    placed: Between[int]
    waiting: Between[int]
    quartiles_ms: tuple[Between[int | None], ...]
    longest_placed_ms: Between[int | None]
    graft_hours: Between[float]
    share_over: tuple[Between[float], ...]


def median_out_ms(state: CaseState, now_ms: int) -> dict[str, int | None]:
    """By harvest whose time out is known: when half of it is placed (ms out), drawn as entered."""
    drawn = observed(state, now_ms)
    return {harvest: quantile_ms(kaplan_meier(mine), 0.5) for harvest, mine in drawn.items()}


def observed(state: CaseState, now_ms: int) -> dict[str, list[Observation]]:
    """The grafts placed or waiting of each harvest whose time out is known, harvests drawn as entered."""
    since = out_since_ms(state)
    found = {
        harvest: [Observation(*each, placed=True) for each in mine]
        for harvest, mine in placings_out(state).items()
    }
    waiting: Counter[tuple[str, str]] = Counter()
    for stock, count in state.tally.stock.items():
        if stock.account in USABLE and stock.account != "placed" and stock.harvest in since:
            waiting[stock.harvest, stock.size] += count
    for (harvest, _), count in waiting.items():
        if count > 0:
            found.setdefault(harvest, []).append(
                Observation(max(0, now_ms - since[harvest]), count, placed=False)
            )
    return found
