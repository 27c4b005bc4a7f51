"""How each entry changes the state. Total: whatever is in the record is folded, never refused."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from types import MappingProxyType
from typing import Any, NamedTuple, TypeVar

from orroom.case.events import (
    BreakEnded,
    BreakStarted,
    CareGiven,
    CaseOpened,
    CaseReopened,
    CaseSignedOff,
    ClockStepped,
    DishCounted,
    Drawn,
    EntriesLost,
    Entry,
    EntryCorrected,
    GraftReseated,
    GraftsCut,
    GraftsDiscarded,
    GraftsDivided,
    GraftsIssued,
    GraftsPlaced,
    GraftsReturned,
    HarvestEnded,
    HarvestStarted,
    MismatchExplained,
    PlanRevised,
    PromptPaused,
    SegmentCut,
    ShiftChanged,
    SitesMade,
    StationJoined,
    StationLeft,
)
from orroom.case.state import (
    Account,
    CareClock,
    CaseState,
    ClockStep,
    Explained,
    Issue,
    LotClock,
    Stock,
    Tally,
    add,
    changed,
)


def evolve(state: CaseState, entry: Entry) -> CaseState:
    """The state after ``entry``. A correction of no entry, or of one corrected before, changes nothing."""
    log = state.log.append(entry)
    if not isinstance(entry.event, EntryCorrected):
        return CaseState(log, state.corrected_by, _applied(state.tally, entry))
    corrected = state.entry(entry.event.entry)
    if corrected is None or not state.stands(corrected):
        return CaseState(log, state.corrected_by, state.tally)
    corrected_by = {**state.corrected_by, corrected.seq: entry.seq}
    return _without(CaseState(log, corrected_by, state.tally), corrected)


def fold(entries: Iterable[Entry], start: CaseState | None = None) -> CaseState:
    """The state after all ``entries``, from ``start`` or from nothing: ``evolve`` over and over, but fast.

    A property test holds the result equal to that of ``evolve`` alone.
    """
    state = start or CaseState()
    behind: list[Entry] = []
    for entry in entries:
        if isinstance(entry.event, EntryCorrected):
            state = evolve(_after(state, behind), entry)
            behind = []
        else:
            behind.append(entry)
    return _after(state, behind)


def _after(state: CaseState, entries: list[Entry]) -> CaseState:
    """The state after entries none of which corrects another."""
    if not entries:
        return state
    return CaseState(state.log.extended(entries), state.corrected_by, _added_up(state.tally, entries))


def _added_up(tally: Tally, entries: Iterable[Entry]) -> Tally:
    """The tally after entries: counts are copied once, then added up in place; no other field needs them."""
    stock, placed, sites = dict(tally.stock), dict(tally.placed), dict(tally.sites)
    reseated, done, issues = dict(tally.reseated), dict(tally.done), list(tally.issues)
    for entry in entries:
        moved = _moved(entry)
        if moved is None:
            tally = _became(tally, entry)
            continue
        add(stock, moved.stock)
        add(done, moved.done)
        if moved.placed:
            add(placed, moved.placed)
        elif moved.sites:
            add(sites, moved.sites)
        elif moved.reseated:
            add(reseated, moved.reseated)
        issues += moved.issues
    return replace(
        tally, stock=stock, placed=placed, sites=sites, reseated=reseated, done=done, issues=tuple(issues)
    )


def _without(state: CaseState, entry: Entry) -> CaseState:
    """The state with the tally of all entries that still stand.

    What only moves counts is undone by moving them back; anything else is folded anew.
    """
    moved = _moved(entry)
    if moved is not None:
        return replace(state, tally=_shifted(state.tally, moved, -1))
    return replace(state, tally=_added_up(Tally(), state.standing()))


K = TypeVar("K")


_NOTHING: Mapping[Any, int] = MappingProxyType({})


class _Moved(NamedTuple):
    """What an entry adds to the counts of a tally; the same with a minus sign takes it back."""

    stock: Mapping[Stock, int] = _NOTHING
    placed: Mapping[tuple[str, str], int] = _NOTHING
    sites: Mapping[str, int] = _NOTHING
    reseated: Mapping[str, int] = _NOTHING
    done: Mapping[tuple[str, str, str], int] = _NOTHING
    issues: tuple[Issue, ...] = ()


def _between(size: str, drawn: tuple[Drawn, ...], to: Account) -> dict[Stock, int]:
    """Drawn grafts leave where they were and arrive in ``to`` of the same lot."""
    moves: dict[Stock, int] = {}
    for part in drawn:
        add(moves, {Stock(size, part.lot, part.place): -part.count})
        add(moves, {Stock(size, part.lot, to): part.count})
    return moves


def _moved(entry: Entry) -> _Moved | None:
    """The counts an entry moves, or ``None`` for an entry that does more or other than that."""
    who = entry.stamp.who
    match entry.event:
        case GraftsCut(size=size, lot=lot, count=count):
            stock = {Stock(size, lot, "cut"): count, Stock(size, lot, "dish"): count}
            return _Moved(stock=stock, done={(who, "cut", size): count})
        case GraftsDiscarded(size=size, count=count, lot=str(lot)):
            stock = {Stock(size, lot, "cut"): count, Stock(size, lot, "discarded"): count}
            return _Moved(stock=stock, done={(who, "discarded cutting", size): count})
        case GraftsDiscarded(size=size, count=count, drawn=drawn):
            return _Moved(stock=_between(size, drawn, "discarded"), done={(who, "discarded", size): count})
        case GraftsDivided(size=size, into=into, count=count, drawn=drawn):
            stock = _between(size, drawn, "divided_out")
            for part in drawn:
                for piece in into:
                    add(stock, {Stock(piece, part.lot, "divided_in"): part.count})
                    add(stock, {Stock(piece, part.lot, "dish"): part.count})
            return _Moved(stock=stock, done={(who, "divided", size): count})
        case GraftsIssued(size=size, drawn=drawn):
            batches = tuple(Issue(entry.seq, entry.stamp.at_ms, size, part.lot, part.count) for part in drawn)
            return _Moved(stock=_between(size, drawn, "bench"), issues=batches)
        case GraftsReturned(size=size, drawn=drawn):
            return _Moved(stock=_between(size, drawn, "dish"))
        case GraftsPlaced(zone=zone, size=size, count=count, drawn=drawn):
            stock = _between(size, drawn, "placed")
            return _Moved(stock=stock, placed={(zone, size): count}, done={(who, "placed", size): count})
        case DishCounted(size=size, lot=lot, place=place, tallied=tallied, found=found):
            more = found - tallied
            stock = {Stock(size, lot, place): more, Stock(size, lot, "missing"): -more}
            found_there = place == "bench" and more > 0
            came = Issue(entry.seq, entry.stamp.at_ms, size, lot, more)
            return _Moved(stock=stock, issues=(came,) if found_there else ())
        case SitesMade(zone=zone, count=count):
            return _Moved(sites={zone: count})
        case GraftReseated(zone=zone, count=count):
            return _Moved(reseated={zone: count})
    return None


def _shifted(tally: Tally, moved: _Moved, sign: int) -> Tally:
    def by(counts: Mapping[K, int]) -> Mapping[K, int]:
        return counts if sign > 0 else {key: -count for key, count in counts.items()}

    issues = tally.issues
    if moved.issues:
        theirs = set(moved.issues)
        issues = (*issues, *moved.issues) if sign > 0 else tuple(i for i in issues if i not in theirs)
    return replace(
        tally,
        stock=changed(tally.stock, by(moved.stock)),
        placed=changed(tally.placed, by(moved.placed)) if moved.placed else tally.placed,
        sites=changed(tally.sites, by(moved.sites)) if moved.sites else tally.sites,
        reseated=changed(tally.reseated, by(moved.reseated)) if moved.reseated else tally.reseated,
        done=changed(tally.done, by(moved.done)) if moved.done else tally.done,
        issues=issues,
    )


def _applied(tally: Tally, entry: Entry) -> Tally:
    moved = _moved(entry)
    if moved is not None:
        return _shifted(tally, moved, +1)
    return _became(tally, entry)


def _became(tally: Tally, entry: Entry) -> Tally:
    """What an entry that is not a mere count makes of the tally."""
    at_ms, who, station = entry.stamp.at_ms, entry.stamp.who, entry.stamp.station
    match entry.event:
        case CaseOpened(plan=plan, utc_offset_minutes=offset):
            return replace(tally, plan=plan, utc_offset_minutes=offset)
        case PlanRevised(plan=plan):
            return replace(tally, plan=plan)
        case StationJoined(role=role):
            return replace(tally, stations={**tally.stations, station: role})
        case StationLeft():
            return replace(tally, stations={k: v for k, v in tally.stations.items() if k != station})
        case HarvestStarted(lot=lot, started_at_ms=started):
            return _with_lot(tally, lot, started_at_ms=started)
        case HarvestEnded(lot=lot):
            return _with_lot(tally, lot, ended_at_ms=at_ms)
        case SegmentCut(lot=lot, segment=segment):
            finished = tally.lots.get(lot, LotClock()).segments
            return _with_lot(tally, lot, segments=(*finished, segment))
        case CareGiven(care=care, temperature_c=reading):
            return replace(tally, care={**tally.care, care: CareClock(at_ms, who, reading)})
        case PromptPaused(care=care, until_ms=until):
            clock = replace(tally.care.get(care, CareClock()), paused_until_ms=until)
            return replace(tally, care={**tally.care, care: clock})
        case MismatchExplained(mismatch=mismatch, amount=amount, text=text):
            return replace(tally, explained={**tally.explained, mismatch: Explained(amount, who, text)})
        case ClockStepped(by_ms=by_ms):
            step = ClockStep(entry.seq, at_ms, by_ms)
            return replace(tally, clock_steps=(*tally.clock_steps, step))
        case EntriesLost(count=count):
            return replace(tally, losses={**tally.losses, entry.seq: count})
        case BreakStarted():
            return replace(tally, on_break={**tally.on_break, who: at_ms})
        case BreakEnded() | ShiftChanged():
            return replace(tally, on_break={k: v for k, v in tally.on_break.items() if k != who})
        case CaseSignedOff():
            return replace(tally, signed_off=True)
        case CaseReopened():
            return replace(tally, signed_off=False)
    return tally


def _with_lot(tally: Tally, lot: str, **values: object) -> Tally:
    clock = replace(tally.lots.get(lot, LotClock()), **values)  # type: ignore[arg-type]  # named as the fields
    return replace(tally, lots={**tally.lots, lot: clock})
