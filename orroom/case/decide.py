"""What a command becomes: one event, or a refusal that says what would be right. Pure."""

from __future__ import annotations

import math
from itertools import count as counting

from msgspec.structs import replace

from orroom.case import commands as c
from orroom.case import events as e
from orroom.case.care import due_at_ms
from orroom.case.closing import open_at_sign_off
from orroom.case.drawing import draw
from orroom.case.mismatches import mismatches
from orroom.case.placings import zone_of
from orroom.case.refusals.corrections import NOTHING_TO_TAKE_BACK
from orroom.case.rules import Refusal, refusal_of
from orroom.case.state import CaseState, LotClock, Stock, Tally
from orroom.case.terms import Role, clean

#: What is kept of a burst: a scanner may have read a name, which has no place in a record.
SEVERAL_KEYS = "several"


def decide(state: CaseState, command: c.Command, stamp: e.Stamp) -> e.AnyEvent | Refusal:
    """The event that ``command`` becomes when asked by ``stamp`` in ``state``, or why it is refused.

    One command is one event: what one tap does can be taken back as one.
    """
    if state.tally.plan is None and not isinstance(command, c.OpenCase):
        return Refusal("refuse_before_opening", "The case has not been opened yet.", "Open it with a plan.")
    event = _event(state, command, stamp)
    return refusal_of(state, event, stamp) or event


def _event(state: CaseState, command: c.Command, stamp: e.Stamp) -> e.AnyEvent:
    tally = state.tally
    match command:
        case c.OpenCase(plan=plan, utc_offset_minutes=offset):
            return e.CaseOpened(plan=plan, utc_offset_minutes=offset)
        case c.RevisePlan(plan=plan, reason=reason):
            return e.PlanRevised(plan=plan, reason=clean(reason))
        case c.JoinStation(role=role):
            return e.StationJoined(role=role)
        case c.LeaveStation(reason=reason):
            return e.StationLeft(reason=reason)
        case c.StartHarvest(lot=lot, minutes_ago=minutes):
            return e.HarvestStarted(lot=lot, started_at_ms=stamp.at_ms - _ms(minutes))
        case c.EndHarvest(lot=lot):
            return e.HarvestEnded(lot=lot)
        case c.FinishSegment(lot=lot, length_mm=length_mm):
            return e.SegmentCut(lot=lot, segment=_segment_in_hand(tally, lot), length_mm=length_mm)
        case c.CutGrafts(lot=lot, size=size, count=count):
            return e.GraftsCut(lot=lot, size=size, count=count)
        case c.DivideGrafts(size=size, into=into, count=count, lot=lot):
            drawn = draw(tally, size, count, lot, e.GraftsDivided.does.takes_from)
            lost = _hairs_lost(state, size, into) * count
            return e.GraftsDivided(size=size, into=into, count=count, hairs_lost=lost, drawn=drawn)
        case c.DiscardGrafts(size=size, reason=reason, count=count, lot=str(lot)):
            return e.GraftsDiscarded(size=size, reason=reason, count=count, lot=lot)
        case c.DiscardGrafts(size=size, reason=reason, count=count):
            drawn = draw(tally, size, count, None, e.GraftsDiscarded.does.takes_from)
            return e.GraftsDiscarded(size=size, reason=reason, count=count, drawn=drawn)
        case c.MakeSites(zone=zone, count=count):
            return e.SitesMade(zone=zone, count=count)
        case c.IssueGrafts(size=size, count=count, lot=lot):
            return e.GraftsIssued(size=size, count=count, drawn=draw(tally, size, count, lot, ("dish",)))
        case c.ReturnGrafts(size=size, count=count, lot=lot):
            drawn = draw(tally, size, count, lot, e.GraftsReturned.does.takes_from)
            return e.GraftsReturned(size=size, count=count, drawn=drawn)
        case c.PlaceGrafts(zone=zone, size=size, count=count, lot=lot):
            drawn = draw(tally, size, count, lot, e.GraftsPlaced.does.takes_from)
            return e.GraftsPlaced(zone=zone, size=size, count=count, drawn=drawn)
        case c.MovePlacing(entry=entry, zone=zone):
            return _moved_to(state, entry, zone)
        case c.ReseatGraft(zone=zone, count=count):
            return e.GraftReseated(zone=zone, count=count)
        case c.GiveCare(care=care, temperature_c=reading):
            return e.CareGiven(care=care, due_at_ms=due_at_ms(tally, care), temperature_c=reading)
        case c.PausePrompt(care=care, minutes=minutes):
            return e.PromptPaused(care=care, until_ms=stamp.at_ms + _ms(minutes))
        case c.CheckSpot():
            return e.SpotChecked(
                subject=command.subject,
                zone=command.zone,
                looked_at=command.looked_at,
                faulty=command.faulty,
                fault=command.fault and clean(command.fault),
                follicles=command.follicles,
                transected=command.transected,
            )
        case c.ChangeShift(left=left):
            return e.ShiftChanged(left=left)
        case c.StartBreak():
            return e.BreakStarted()
        case c.EndBreak():
            return e.BreakEnded()
        case c.ChangeTeam(work=work, people=people):
            return e.TeamChanged(work=work, people=people)
        case c.PlanBreak(in_minutes=in_minutes, minutes=minutes, work=work):
            starts = stamp.at_ms + _ms(in_minutes)
            return e.BreakPlanned(starts_at_ms=starts, minutes=minutes, work=work)
        case c.AddNote(text=text):
            return e.NoteAdded(text=clean(text))
        case c.SetKeysAside(cause=cause, keys=keys, counted=counted, more=more):
            which = keys[0] if len(set(keys)) == 1 else SEVERAL_KEYS
            return e.KeysSetAside(cause=cause, keys=which, count=len(keys) + more, counted=counted)
        case c.TellClockStep(by_ms=by_ms, at_start=at_start):
            return e.ClockStepped(by_ms=by_ms, at_start=at_start)
        case c.TellDifference(differed=differed):
            return differed
        case c.ExplainMismatch(mismatch=key, text=text, amount=shown):
            now = {each.key: each.amount for each in mismatches(state)}.get(key, 0)
            amount = now if shown is None else min(shown, now, key=abs)  # what nobody has seen stays open
            return e.MismatchExplained(mismatch=key, amount=amount, text=clean(text))
        case c.TakeBack(role=role):
            return e.EntryCorrected(entry=_last_own(state, role, stamp), reason="taken back")
        case c.CancelTap(tap=tap, reason=reason):
            return e.EntryCorrected(entry=_entry_of(state, stamp.station, tap), reason=reason)
        case c.CorrectEntry(entry=entry, reason=reason):
            return e.EntryCorrected(entry=entry, reason=clean(reason))
        case c.CountDish(size=size, lot=lot, found=found, place=place, tallied=seen):
            tallied = tally.stock.get(Stock(size, lot, place), 0) if seen is None else seen
            return e.DishCounted(size=size, lot=lot, place=place, tallied=tallied, found=found)
        case c.BeginCount() | c.GiveUpCount() | c.CountAll():
            return _counted(state, command, stamp)
        case c.SignOff():
            return _signed_off(state, command)
        case c.ReopenCase(reason=reason):
            return e.CaseReopened(reason=clean(reason))
    raise TypeError(f"no such command: {command!r}")


def _counted(
    state: CaseState, command: c.BeginCount | c.GiveUpCount | c.CountAll, stamp: e.Stamp
) -> e.FinalCountBegun | e.FinalCountGivenUp | e.FinalCounted:
    """What becomes of the final count."""
    match command:
        case c.BeginCount():
            return e.FinalCountBegun()
        case c.GiveUpCount(begun=begun):
            here = state.tally.counting.get(stamp.station)
            return e.FinalCountGivenUp(begun=begun or (0 if here is None else here.seq))
        case c.CountAll(piles=piles, since=since, recount_of=before):
            return e.FinalCounted(piles=piles, since=since, recount_of=before)


def _signed_off(state: CaseState, command: c.SignOff) -> e.CaseSignedOff:
    """The closing: one reason for all covers whatever is open and has none of its own, each by its name."""
    because, informed = (clean(each or "") or None for each in (command.open_because, command.told))
    named = {each.key for each in command.left_open}
    rest = [each for each in open_at_sign_off(state) if because and informed and each.key not in named]
    return e.CaseSignedOff(
        second=command.second,
        open_because=None if rest else because,
        told=None if rest else informed,
        confirmed=command.confirmed,
        left_open=(
            *(
                replace(each, because=clean(each.because), told=clean(each.told))
                for each in command.left_open
            ),
            *(
                e.LeftOpen(key=each.key, sentence=each.sentence, because=str(because), told=str(informed))
                for each in rest
            ),
        ),
    )


def _ms(minutes: float) -> int:
    """Minutes in whole ms; what is no finite number becomes longer than any rule allows."""
    ms = minutes * 60_000
    return round(ms) if math.isfinite(ms) else 10**15


def _segment_in_hand(tally: Tally, lot: str) -> int:
    """The first segment of a lot that is not finished."""
    finished = tally.lots.get(lot, LotClock()).segments
    return next(number for number in counting(1) if number not in finished)


def _moved_to(state: CaseState, number: int, zone: str) -> e.PlacingMoved:
    """The move of a placing; of an entry that is none it says nothing, and is refused."""
    placing = state.entry(number)
    if placing is None or not isinstance(placing.event, e.GraftsPlaced):
        return e.PlacingMoved(entry=number, from_zone="", zone=zone, size="", count=0)
    size, count = placing.event.size, placing.event.count
    return e.PlacingMoved(entry=number, from_zone=zone_of(state, placing), zone=zone, size=size, count=count)


def _hairs_lost(state: CaseState, size: str, into: tuple[str, ...]) -> float:
    """Hairs of a divided graft that are in none of its pieces; 0 where sizes are unknown or only a mean."""
    sizes = state.plan.size_by_key
    if size == "M" or size not in sizes or not all(piece in sizes for piece in into):
        return 0.0
    return max(0.0, sizes[size].hairs - sum(sizes[piece].hairs for piece in into))


def _entry_of(state: CaseState, station: str, tap: int) -> int:
    """The number of the entry that a tap became, or ``NOTHING_TO_TAKE_BACK``."""
    for entry in reversed(state.log):
        if (entry.stamp.station, entry.stamp.tap) == (station, tap):
            return entry.seq
    return NOTHING_TO_TAKE_BACK


def _last_own(state: CaseState, role: Role, stamp: e.Stamp) -> int:
    """The number of this person's last standing entry at this station, or ``NOTHING_TO_TAKE_BACK``.

    Only what was tapped there before: a take-back that is rescued later finds no newer tap than its own.
    """
    for entry in reversed(state.log):
        made = entry.stamp
        own = (made.who, made.station) == (stamp.who, stamp.station) and made.tap < stamp.tap
        if own and role in entry.event.does.undone_at and state.stands(entry):
            return entry.seq
    return NOTHING_TO_TAKE_BACK
