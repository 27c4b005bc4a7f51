"""Where the record and the plan or the tally disagree. A mismatch is shown until it is explained.

Each kind is one function that lists what it finds; ``KINDS`` is the table of them all.
"""

from collections.abc import Callable, Iterator
from typing import Final, NamedTuple

from msgspec import Struct
from msgspec.structs import replace

from orroom.case.evidence import entries, gone, what_differs
from orroom.case.harvests import before_harvest
from orroom.case.state import CaseState, HarvestClock, once
from orroom.case.terms import size_named


class Mismatch(Struct, frozen=True):
    """One disagreement: a key that names it, how much it concerns in its unit, and the sentence shown."""

    key: str
    amount: int
    sentence: str
    unit: str = "grafts"
    explanation: str | None = None


#: What a hand count explains where more had been taken than counted in.
TAKEN_UNCOUNTED: Final = "taken before they were entered, as the hand count shows"


@once
def mismatches(state: CaseState) -> tuple[Mismatch, ...]:
    """All mismatches, explained or not, in a fixed order."""
    return tuple(_as_explained(state, mismatch) for kind in KINDS.values() for mismatch in kind.find(state))


def _as_explained(state: CaseState, mismatch: Mismatch) -> Mismatch:
    found = state.tally.explained.get(mismatch.key) or state.tally.explained.get(_earlier_key(mismatch.key))
    if found is None or not _covers(found.amount, mismatch.amount):
        return mismatch
    return replace(mismatch, explanation=f"{found.text} ({found.who})")


def _earlier_key(key: str) -> str:
    """What explains this mismatch in records that knew only ``over`` for all that was beyond the plan."""
    word, _, rest = key.partition(":")
    return f"over:{rest}" if word == "misplaced" else key


def _covers(explained: int, amount: int) -> bool:
    """Whether an explanation of this many grafts is enough: the mismatch has not grown or turned round."""
    return explained * amount > 0 and abs(amount) <= abs(explained)


def open_mismatches(state: CaseState) -> tuple[Mismatch, ...]:
    """The mismatches that nobody has explained yet."""
    return tuple(each for each in mismatches(state) if each.explanation is None)


def taken_beyond_tally(state: CaseState) -> Iterator[Mismatch]:
    """More grafts were taken from a dish, or from the placers, than were entered there."""
    short = [(stock, -count) for stock, count in state.tally.stock.items() if count < 0]
    for stock, more in sorted(short):
        if stock.account in {"dish", "bench"}:
            where = "dishes" if stock.account == "dish" else "placers"
            what = f"{more:,} {size_named(stock.size, more)} too many"
            sentence = f"harvest {stock.harvest}: {what} taken from the {where}"
            yield Mismatch(f"short:{stock.account}:{stock.size}:{stock.harvest}", more, sentence)


def placed_where_not_meant(state: CaseState) -> Iterator[Mismatch]:
    """Grafts were placed into a zone that does not allow their size, or that is not treated."""
    for zone in state.plan.zones:
        for size in state.plan.size_by_key:
            count = state.tally.placed.get((zone.key, size), 0)
            if count <= 0 or zone.takes(size):
                continue
            where = "that is not treated"
            if not zone.not_treated:
                *names, last = [size_named(each) for each in zone.allowed or ()] or ["none"]
                where = f"for {', '.join(names)}{' and ' * bool(names)}{last}"
            sentence = f"{zone.label}: {count:,} {size_named(size, count)} in a zone {where}"
            yield Mismatch(f"misplaced:{zone.key}:{size}", count, sentence)


def placed_over_plan(state: CaseState) -> Iterator[Mismatch]:
    """More grafts of a size that belongs there were placed into a zone than the plan gives it.

    Grafts that were left at the end and entered as placed beyond the plan are meant, and left out.
    """
    placed, extra = state.tally.placed, state.tally.extra
    for zone in state.plan.zones:
        planned = zone.planned
        for size in filter(lambda each: zone.takes(each.key), state.plan.sizes):
            which = zone.key, size.key
            over = placed.get(which, 0) - extra.get(which, 0) - planned.get(size.key, 0)
            if over > 0:
                sentence = f"{zone.label}: {over:,} {size_named(size.key, over)} placed over plan"
                yield Mismatch(f"over:{zone.key}:{size.key}", over, sentence)


@once
def _placed_in_zones(state: CaseState) -> dict[str, int]:
    placed: dict[str, int] = {}
    for (zone, _), count in state.tally.placed.items():
        placed[zone] = placed.get(zone, 0) + count
    return placed


def placed_beyond_sites(state: CaseState) -> Iterator[Mismatch]:
    """More grafts were placed into a zone than sites were entered for it (only where sites are entered)."""
    for zone in state.plan.zones:
        sites = state.tally.sites.get(zone.key)
        if sites is None or zone.stick_and_place:
            continue
        placed = _placed_in_zones(state).get(zone.key, 0)
        if placed > sites:
            sentence = f"{zone.label}: {placed - sites:,} more placed than sites recorded"
            yield Mismatch(f"sites:{zone.key}", placed - sites, sentence)


def reseated_beyond_placed(state: CaseState) -> Iterator[Mismatch]:
    """More grafts were reseated in a zone than were placed there: rarely is each of them reseated twice."""
    for zone in state.plan.zones:
        if (reseated := state.tally.reseated.get(zone.key)) is None:
            continue
        more = reseated - _placed_in_zones(state).get(zone.key, 0)
        if more > 0:
            yield Mismatch(f"reseated:{zone.key}", more, f"{zone.label}: {more:,} more reseated than placed")


def harvest_not_entered(state: CaseState) -> Iterator[Mismatch]:
    """Grafts were cut from a harvest whose start was never entered: their time out of the body is unknown."""
    cut: dict[str, int] = {}
    for stock, count in state.tally.stock.items():
        if stock.account in {"cut", "kept_before"}:
            cut[stock.harvest] = cut.get(stock.harvest, 0) + count
    for harvest, count in sorted(cut.items()):
        if state.tally.harvests.get(harvest, HarvestClock()).started_at_ms is None:
            came = "kept" if harvest in state.plan.kept else "cut"
            what = f"harvest {harvest}: {count:,} {came}"
            sentence = f"{what}, but its start not entered; time out of the body unknown"
            yield Mismatch(f"harvest:{harvest}", count, sentence)


def harvest_after_its_grafts(state: CaseState) -> Iterator[Mismatch]:
    """A harvest begins after its own grafts were entered: its start is wrong, times are not known."""
    for harvest, before in before_harvest(state).items():
        what = f"{before.cut:,} cut" if before.cut else f"{before.handled:,} handled"
        sentence = f"harvest {harvest}: {what} before it began; time out of the body unknown"
        yield Mismatch(f"early:{harvest}", before.cut or before.handled, sentence)


def kept_not_counted(state: CaseState) -> Iterator[Mismatch]:
    """Grafts kept from an earlier case were not counted again since: nobody knows whether all are there."""
    for harvest, kept in state.plan.kept.items():
        for size, count in kept.grafts.items():
            if (size, harvest, "dish") not in state.tally.hand_counts:
                kept_grafts = f"{count:,} {size_named(size, count)} kept"
                sentence = f"harvest {harvest}: {kept_grafts}, not counted again in this case"
                yield Mismatch(f"kept:{size}:{harvest}", count, sentence)


def counted_differently(state: CaseState) -> Iterator[Mismatch]:
    """A hand count found another number than the tally held.

    Grafts that were taken before they were counted in are explained by that count: none is found there now.
    """
    differing = [(stock, count) for stock, count in state.tally.stock.items() if stock.account == "missing"]
    for stock, count in sorted(differing):
        if count:
            named, kept = size_named(stock.size, abs(count)), stock.harvest in state.plan.kept
            if count > 0:
                found = f"{count:,} {named} {'kept but ' * kept}not found in a hand count"
            else:
                found = f"{-count:,} more {named} found in a hand count{' than were kept' * kept}"
            sentence = f"harvest {stock.harvest}: {found}"
            settled = 0 < -count <= state.tally.settled.get((stock.size, stock.harvest), 0)
            why = TAKEN_UNCOUNTED if settled else None
            yield Mismatch(f"counted:{stock.size}:{stock.harvest}", count, sentence, explanation=why)


def clock_was_set(state: CaseState) -> Iterator[Mismatch]:
    """The machine's clock was set while the case ran, or behind after a restart; the case's time went on."""
    for step in state.tally.clock_steps:
        seconds = round(step.by_ms / 1000)
        way = "forward" if seconds > 0 else "back"
        sentence = f"the machine's clock was set {way} by {abs(seconds):,} s; durations are unaffected"
        if step.at_start:
            sentence = "the clock was behind after a restart; the time the machine was off is not counted"
        yield Mismatch(f"clock:{step.seq}", seconds, sentence, "s")


def entries_gone(state: CaseState) -> Iterator[Mismatch]:
    """Entries that had been saved were gone when the case was opened again."""
    for seq, count in state.tally.losses.items():
        sentence = f"the disk lost {entries(count)} (before entry {seq}): recount by hand"
        yield Mismatch(f"lost:{seq}", count, sentence, "entries")


def not_the_anchored_record(state: CaseState) -> Iterator[Mismatch]:
    """The file held other entries than those whose seal had been kept next to it."""
    for seq, differed in state.tally.differences.items():
        sentence = f"record changed before entry {seq}: {what_differs(differed)}; recount by hand"
        yield Mismatch(f"differed:{seq}", max(1, gone(differed)), sentence, "entries")


class Kind(NamedTuple):
    """A kind of mismatch: what it is, without the words of a plan, and the function that finds them."""

    said: str
    find: Callable[[CaseState], Iterator[Mismatch]]


#: By the word that a mismatch's key begins with, in the order shown: what is in the body first.
KINDS: Final = {
    "misplaced": Kind("placed where that size is not allowed, or nothing is", placed_where_not_meant),
    "short": Kind("more taken than put in", taken_beyond_tally),
    "over": Kind("placed over plan", placed_over_plan),
    "sites": Kind("more placed than sites recorded", placed_beyond_sites),
    "reseated": Kind("more reseated than placed", reseated_beyond_placed),
    "harvest": Kind("cut, but the start of their harvest not entered", harvest_not_entered),
    "early": Kind("grafts entered before their harvest began", harvest_after_its_grafts),
    "kept": Kind("kept from an earlier case, not counted again", kept_not_counted),
    "counted": Kind("hand count differs from the tally", counted_differently),
    "clock": Kind("the machine's clock was set", clock_was_set),
    "lost": Kind("saved entries lost by the disk", entries_gone),
    "differed": Kind("record changed", not_the_anchored_record),
}
