"""How larger grafts may be divided for a re-plan: into which pieces, and what is lost by it."""

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from math import floor
from types import MappingProxyType
from typing import Final, Literal, NamedTuple

from orroom.case.events import Entry, GraftsDivided, PlanRevised, ToDivide
from orroom.case.plan import Plan
from orroom.case.state import CaseState

#: Where an expected loss comes from: divisions in this record, the plan, or neither has one.
Basis = Literal["record", "plan", "none"]

#: What a cut costs, in hairs: as much as a graft of another size than planned at its highest rate. So larger
#: grafts go uncut where a few of them can replace others. Common practice, no source.
CUT: Final = 0.25
#: What a hair lost by dividing costs on top. Common practice, no source: every hair of the donor counts, and
#: a division that gives at least half its hairs to a zone that lacks them still pays.
LOST: Final = 0.5
#: Rounding of a share of pieces takes none away.
_ROUNDING: Final = 1e-6


class Way(NamedTuple):
    """A way to divide a graft: its size, the sizes of its pieces, and the share of pieces to be expected."""

    size: str
    into: tuple[str, ...]
    kept: float = 1.0
    basis: Basis = "none"

    def pieces(self, size: str) -> float:
        """Pieces of a size to be expected from one graft."""
        return self.into.count(size) * self.kept

    def hairs_lost(self, hairs: Mapping[str, float]) -> float:
        """Hairs of one graft that are in none of its pieces."""
        return max(0.0, hairs[self.size] - self.kept * sum(hairs[piece] for piece in self.into))

    def price(self, hairs: Mapping[str, float]) -> float:
        """What dividing one graft costs, in hairs."""
        return CUT * max(1, len(self.into) - 1) + LOST * self.hairs_lost(hairs)


Divided = Mapping[Way, int]  #: grafts to divide, by the way it is done
NOTHING: Final[Divided] = MappingProxyType({})


def ways_of(plan: Plan, also: Iterable[tuple[str, str]] = ()) -> tuple[Way, ...]:
    """The ways a plan allows, and some more as size and pieces (``1+2``), with the loss the plan expects."""
    allowed = [(str(size.key), way) for size in plan.sizes for way in size.divided_into or ()]
    return tuple(
        Way(size, tuple(pieces.split("+")), *_expected(plan, size))
        for size, pieces in dict.fromkeys([*allowed, *also])
    )


def _expected(plan: Plan, size: str) -> tuple[float, Basis]:
    loss = plan.size_by_key[size].dividing_loss if size in plan.size_by_key else None
    return (1.0, "none") if loss is None else (1 - loss, "plan")


def ways_now(state: CaseState, also: Iterable[tuple[str, str]] = ()) -> tuple[Way, ...]:
    """As ``ways_of``, each with the loss of this record where such grafts were divided already.

    Hairs that a listed way itself leaves out are lost on purpose and do not count. Of multi-unit
    grafts the loss is not known, as their hairs are only a mean.
    """
    ways = ways_of(state.plan, also)
    chosen = {(way.size, *sorted(way.into)) for way in ways}
    grafts: dict[str, int] = {}
    lost: dict[str, float] = {}
    for entry in state.standing():
        match entry.event:
            case GraftsDivided(size=size, into=into, count=count, hairs_lost=hairs) if size != "M":
                grafts[size] = grafts.get(size, 0) + count
                if (size, *sorted(into)) not in chosen:
                    lost[size] = lost.get(size, 0.0) + hairs
    return tuple(
        way._replace(
            kept=1 - lost.get(way.size, 0.0) / (grafts[way.size] * state.plan.size_by_key[way.size].hairs),
            basis="record",
        )
        if grafts.get(way.size)
        else way
        for way in ways
    )


class Asked(NamedTuple):
    """What an accepted re-plan asked to divide, the entry that accepted it, and how many were so divided."""

    entry: Entry
    ask: ToDivide
    divided: int


def asked_and_divided(state: CaseState) -> Iterator[Asked]:
    """Each request of the accepted re-plans, with the grafts divided that way until the next was accepted."""
    asked: list[tuple[Entry, ToDivide]] = []
    divided: Counter[tuple[str, ...]] = Counter()

    def done() -> Iterator[Asked]:
        for entry, ask in asked:
            yield Asked(entry, ask, divided[ask.size, *sorted(ask.into)])

    for entry in state.standing():
        match entry.event:
            case PlanRevised(divide=tuple(divide)):
                yield from done()
                asked = [(entry, each) for each in divide]
                divided.clear()
            case GraftsDivided(size=size, into=into, count=count):
                divided[size, *sorted(into)] += count
    yield from done()


def after(supply: Mapping[str, int], divided: Divided) -> dict[str, int]:
    """Grafts there will be by size once these are divided; of expected pieces, whole ones only."""
    return {
        size: count
        - sum(number for way, number in divided.items() if way.size == size)
        + whole_pieces(divided.items(), size)
        for size, count in supply.items()
    }


def whole_pieces(divided: Iterable[tuple[Way, int]], size: str) -> int:
    """Whole pieces of a size to be expected from these divisions."""
    return floor(sum(way.pieces(size) * number for way, number in divided) + _ROUNDING)
