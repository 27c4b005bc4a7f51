"""How each entry changes the state. Total: whatever is in the record is folded, never refused."""

from collections import defaultdict
from collections.abc import Container, Iterable, Mapping
from typing import Final

from msgspec.structs import replace

from orroom.case import events as e
from orroom.case.moves import moved_by, placers_moves_of
from orroom.case.plan import Plan
from orroom.case.state import (
    CareClock,
    CareDone,
    CaseState,
    ClockStep,
    CountBegun,
    Explained,
    HarvestClock,
    Lane,
    LimitAnswer,
    Stock,
    Tally,
    add,
    changed,
)

#: Events that only move counts: made and undone in any order, the result is the same.
MOVING: Final = e.kinds_that(lambda does: does.moves)
#: Those of them that may bring grafts to the placers or take them from it, where each batch is kept apart.
AT_PLACERS: Final[frozenset[type[e.Event]]] = e.kinds_that(lambda does: does.takes_from) | {e.DishCounted}
#: This many different taps are told apart while a record is added up; a day has some hundreds.
MOST_TAPS: Final = 5_000


def evolve(state: CaseState, entry: e.Entry) -> CaseState:
    """The state after ``entry``. A correction of no entry, or of one corrected before, changes nothing."""
    log = state.log.append(entry)
    if not isinstance(entry.event, e.EntryCorrected):
        return CaseState(log, state.corrected_by, _applied(state.tally, entry))
    corrected = state.entry(entry.event.entry)
    if corrected is None or not state.stands(corrected):
        return CaseState(log, state.corrected_by, state.tally)
    corrected_by = {**state.corrected_by, corrected.seq: entry.seq}
    return _without(CaseState(log, corrected_by, state.tally), corrected)


def fold(entries: Iterable[e.Entry], start: CaseState | None = None) -> CaseState:
    """The state after all ``entries``, from ``start`` or from nothing: ``evolve`` over and over, but fast.

    What is cancelled is found first, so that it is not added up at all. A property test holds the result
    equal to that of ``evolve`` alone.
    """
    state, came = start or CaseState(), list(entries)
    if not came:
        return state
    log, corrected_by, taken_back = state.log.extended(came), dict(state.corrected_by), []
    for place, entry in enumerate(came, len(state.log)):
        if type(entry.event) is e.EntryCorrected and 1 <= entry.event.entry <= place:
            wrong = log[entry.event.entry - 1]
            if wrong.seq not in corrected_by:
                corrected_by[wrong.seq] = entry.seq
                if entry.event.entry <= len(state.log):
                    taken_back.append(wrong)
    if not all(type(wrong.event) in MOVING for wrong in taken_back):
        return CaseState(log, corrected_by, added_up(Tally(), log, corrected_by))
    tally = state.tally
    for wrong in taken_back:
        tally = _shifted(tally, wrong, -1)
    return CaseState(log, corrected_by, added_up(tally, came, corrected_by))


def added_up(tally: Tally, entries: Iterable[e.Entry], corrected: Container[int]) -> Tally:
    """The tally after ``entries`` without those that are ``corrected``; each is looked at once and not kept.

    A day is made of few taps that differ, each made over and over: how often each was made is counted first,
    and what it moves is added up once.
    """
    taps: defaultdict[tuple[str, e.Event], int] = defaultdict(int)
    moves = list(tally.placers_moves)
    for entry in entries:
        if entry.seq in corrected:
            continue
        event = entry.event
        if type(event) not in MOVING:
            tally = _became(tally, entry)
            continue
        taps[entry.stamp.who, event] += 1
        if type(event) in AT_PLACERS:
            moves += placers_moves_of(entry)
        if len(taps) == MOST_TAPS:
            tally = _tapped(tally, taps)
            taps.clear()
    return replace(_tapped(tally, taps), placers_moves=tuple(moves))


def _tapped(tally: Tally, taps: Mapping[tuple[str, e.Event], int]) -> Tally:
    """The tally after each of these taps was made this many times, all but what the placers have."""
    stock, placed, sites = dict(tally.stock), dict(tally.placed), dict(tally.sites)
    reseated, done, settled = dict(tally.reseated), dict(tally.done), dict(tally.settled)
    hand_counts = dict(tally.hand_counts)
    fates, extra = dict(tally.fates), dict(tally.extra)
    for (who, event), times in taps.items():
        moved = moved_by(who, event)
        add(stock, moved.stock, times)
        add(placed, moved.placed, times)
        add(sites, moved.sites, times)
        add(reseated, moved.reseated, times)
        add(done, moved.done, times)
        add(settled, moved.settled, times)
        add(hand_counts, moved.hand_counts, times)
        add(fates, moved.fates, times)
        add(extra, moved.extra, times)
    return replace(
        tally,
        stock=stock,
        placed=placed,
        sites=sites,
        reseated=reseated,
        done=done,
        settled=settled,
        hand_counts=hand_counts,
        fates=fates,
        extra=extra,
    )


def _without(state: CaseState, entry: e.Entry) -> CaseState:
    """The state with all entries that were not cancelled: moves are undone, anything else is folded again."""
    if type(entry.event) in MOVING:
        tally = _shifted(state.tally, entry, -1)
    else:
        tally = added_up(Tally(), state.log, state.corrected_by)
    return CaseState(state.log, state.corrected_by, tally)


def _shifted(tally: Tally, entry: e.Entry, times: int) -> Tally:
    """The tally after an entry of ``MOVING`` was made (+1) or undone (-1)."""
    moved = moved_by(entry.stamp.who, entry.event)
    theirs = placers_moves_of(entry) if type(entry.event) in AT_PLACERS else []
    moves = tally.placers_moves
    if theirs:
        moves = (*moves, *theirs) if times > 0 else tuple(each for each in moves if each not in theirs)
    return replace(
        tally,
        stock=changed(tally.stock, moved.stock, times),
        placed=changed(tally.placed, moved.placed, times) if moved.placed else tally.placed,
        sites=changed(tally.sites, moved.sites, times) if moved.sites else tally.sites,
        reseated=changed(tally.reseated, moved.reseated, times) if moved.reseated else tally.reseated,
        done=changed(tally.done, moved.done, times) if moved.done else tally.done,
        settled=changed(tally.settled, moved.settled, times) if moved.settled else tally.settled,
        hand_counts=changed(tally.hand_counts, moved.hand_counts, times)
        if moved.hand_counts
        else tally.hand_counts,
        fates=changed(tally.fates, moved.fates, times) if moved.fates else tally.fates,
        extra=changed(tally.extra, moved.extra, times) if moved.extra else tally.extra,
        placers_moves=moves,
    )


def _applied(tally: Tally, entry: e.Entry) -> Tally:
    if type(entry.event) in MOVING:
        return _shifted(tally, entry, +1)
    return _became(tally, entry)


def _became(tally: Tally, entry: e.Entry) -> Tally:
    """What an entry that is not a mere count makes of the tally."""
    at_ms, who, station = entry.stamp.at_ms, entry.stamp.who, entry.stamp.station
    match entry.event:  # the most frequent first: telling kinds apart takes most of the time here
        case e.CareGiven(care=care, temperature_c=reading, lane=lane):
            done = CareDone(entry.seq, at_ms, care, reading, lane)
            tally = replace(tally, care_done=(*tally.care_done, done))
            if lane is not None:
                return _with_lane(tally, lane, wetted_at_ms=at_ms)
            return replace(tally, care={**tally.care, care: CareClock(at_ms, reading)})
        case e.SegmentCut(harvest=harvest, segment=segment):
            finished = tally.harvests.get(harvest, HarvestClock()).segments
            return _with_harvest(tally, harvest, segments=(*finished, segment))
        case e.CaseOpened(plan=plan, utc_offset_minutes=offset):
            return _planned(replace(tally, utc_offset_minutes=offset, opened_at_ms=at_ms), plan)
        case e.PlanRevised(plan=plan):
            return _planned(tally, plan)
        case e.StickAndPlaceSet(zone=zone, on=on) if tally.plan is not None:
            return replace(tally, plan=tally.plan.with_stick_and_place(zone, on=on))
        case e.StationJoined(role=role):
            return _not_counting(replace(tally, stations={**tally.stations, station: role}), station)
        case e.StationLeft():
            left = {k: v for k, v in tally.stations.items() if k != station}
            return _not_counting(replace(tally, stations=left), station)
        case e.HarvestStarted(harvest=harvest, started_at_ms=started):
            return _with_harvest(tally, harvest, started_at_ms=started)
        case e.HarvestEnded(harvest=harvest):
            return _with_harvest(tally, harvest, ended_at_ms=at_ms)
        case e.LaneOpened(lane=lane, by=by):
            return replace(tally, lanes={**tally.lanes, lane: Lane(by)})
        case e.LaneHandedOver(lane=lane, by=by):
            return _with_lane(tally, lane, by=by)
        case e.LaneClosed(lane=lane):
            return replace(tally, lanes={k: v for k, v in tally.lanes.items() if k != lane})
        case e.PromptPaused(care=care, until_ms=until):
            clock = replace(tally.care.get(care, CareClock()), paused_until_ms=until)
            return replace(tally, care={**tally.care, care: clock})
        case e.MismatchExplained(mismatch=mismatch, amount=amount, text=text):
            return replace(tally, explained={**tally.explained, mismatch: Explained(amount, who, text)})
        case e.LimitAnswered(limit=limit, done=text):
            answer = LimitAnswer(limit, text, who, at_ms)
            return replace(tally, limit_answers=(*tally.limit_answers, answer))
        case e.ClockStepped(by_ms=by_ms, at_start=at_start):
            step = ClockStep(entry.seq, at_ms, by_ms, bool(at_start))
            return replace(tally, clock_steps=(*tally.clock_steps, step))
        case e.EntriesLost(count=count):
            return replace(tally, losses={**tally.losses, entry.seq: count})
        case e.RecordDiffered() as differed:
            return replace(tally, differences={**tally.differences, entry.seq: differed})
        case e.BreakStarted():
            return replace(tally, on_break={**tally.on_break, who: at_ms})
        case e.BreakEnded() | e.HandedOver():
            return replace(tally, on_break={k: v for k, v in tally.on_break.items() if k != who})
        case e.FinalCountBegun():
            begun = CountBegun(entry.seq, at_ms, who)
            return replace(tally, counting={**tally.counting, station: begun})
        case e.FinalCountGivenUp(begun=seq):
            return replace(tally, counting={k: v for k, v in tally.counting.items() if v.seq != seq})
        case e.FinalCounted():
            return _not_counting(replace(tally, counted=True), station)
        case e.CaseSignedOff():
            return replace(tally, signed_off=True, counting={}, counted=False)
        case e.CaseReopened():
            return replace(tally, signed_off=False)
    return tally


def _planned(tally: Tally, plan: Plan) -> Tally:
    """The tally with a plan in force; grafts kept from an earlier case come with the first that has any."""
    tally = replace(tally, plan=plan)
    if not plan.kept or any(key.account == "kept_before" for key in tally.stock):
        return tally
    stock = dict(tally.stock)
    for each in plan.kept.values():
        for size, count in each.grafts.items():
            add(stock, {Stock(size, each.key, "kept_before"): count, Stock(size, each.key, "dish"): count})
    clocks = {each.key: HarvestClock(each.started_at_ms) for each in plan.kept.values()}
    return replace(tally, stock=stock, harvests={**tally.harvests, **clocks})


def _not_counting(tally: Tally, station: str) -> Tally:
    """The tally without a final count under way at a station: it was entered, or the station left it."""
    if station not in tally.counting:
        return tally
    return replace(tally, counting={k: v for k, v in tally.counting.items() if k != station})


def _with_harvest(tally: Tally, harvest: str, **values: object) -> Tally:
    clock = replace(tally.harvests.get(harvest, HarvestClock()), **values)
    return replace(tally, harvests={**tally.harvests, harvest: clock})


def _with_lane(tally: Tally, lane: str, **values: object) -> Tally:
    if lane not in tally.lanes:  # it was opened by an entry that is cancelled now
        return tally
    return replace(tally, lanes={**tally.lanes, lane: replace(tally.lanes[lane], **values)})
