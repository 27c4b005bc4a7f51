"""What a command becomes: one event, or a refusal that says what would be right. Pure."""

import math
from functools import singledispatch
from itertools import count as counting
from typing import Any, TypeVar

from msgspec import Struct
from msgspec.structs import asdict, replace

from orroom.case import commands as c
from orroom.case import events as e
from orroom.case.care import due_at_ms
from orroom.case.closing import open_at_sign_off
from orroom.case.drawing import draw
from orroom.case.mismatches import mismatches
from orroom.case.placings import zone_of
from orroom.case.refusals.corrections import NOTHING_TO_TAKE_BACK
from orroom.case.rules import Refusal, refusal_of
from orroom.case.state import CaseState, HarvestClock, Stock
from orroom.case.terms import Role, clean
from orroom.case.traits import Trait, fields_with

Made = TypeVar("Made", bound=Struct)
#: What is kept of a burst: a scanner may have read a name, which has no place in a record.
SEVERAL_KEYS = "several"


def decide(state: CaseState, command: c.Command, stamp: e.Stamp) -> e.AnyEvent | Refusal:
    """The one event that ``command`` becomes when asked by ``stamp`` in ``state``, or why it is refused."""
    if state.tally.plan is None and not isinstance(command, c.OpenCase):
        return Refusal("refuse_before_opening", "The case has not been opened yet.", "Open it with its plan.")
    event = to_event(command, state, stamp)
    return refusal_of(state, event, stamp) or event


@singledispatch
def to_event(command: c.Command, state: CaseState, stamp: e.Stamp) -> e.AnyEvent:
    """The event that a command becomes. One that says all there is to say has its fields, texts clean."""
    if not hasattr(command, "becomes"):
        raise TypeError(f"no such command: {command!r}")
    return _made(command.becomes, asdict(command))


def _made(kind: type[Made], values: dict[str, Any]) -> Made:
    for field in fields_with(kind, Trait.TEXT):
        if isinstance(given := values.get(field.name), str):
            values[field.name] = clean(given)
        elif field.in_parts and given:
            values[field.name] = tuple(_made(type(part), asdict(part)) for part in given)
    return kind(**values)


@to_event.register
def taken(command: c.TakeGrafts, state: CaseState, stamp: e.Stamp) -> e.AnyEvent:
    """Grafts of one size, drawn from where such an entry takes them."""
    values = asdict(command)
    places = command.becomes.does.takes_from
    lane, harvest = command.lane, values.pop("harvest")
    values["drawn"] = draw(state.tally, command.size, command.count, harvest, places, lane)
    return _made(command.becomes, {**values, "by": _placer(state, lane)})


def _placer(state: CaseState, lane: str | None) -> str | None:
    """Whose lane it is; ``None`` without one, or for one that is not open, which is refused."""
    return state.tally.lanes[lane].by if lane is not None and lane in state.tally.lanes else None


@to_event.register
def sites_made(command: c.MakeSites, state: CaseState, stamp: e.Stamp) -> e.SitesMade:
    """The sites, and who made them: the plan's first surgeon if nobody is named."""
    by = command.by or next((each.initials for each in state.plan.staff if each.role == "surgeon"), None)
    return e.SitesMade(zone=command.zone, count=command.count, by=by)


@to_event.register
def divided(command: c.DivideGrafts, state: CaseState, stamp: e.Stamp) -> e.GraftsDivided:
    """Grafts out of their dish, and the hairs that are in none of the pieces."""
    size, into, count = command.size, command.into, command.count
    drawn = draw(state.tally, size, count, command.harvest, e.GraftsDivided.does.takes_from)
    lost = _hairs_lost(state, size, into) * count
    return e.GraftsDivided(size=size, into=into, count=count, hairs_lost=lost, drawn=drawn)


@to_event.register
def discarded(command: c.DiscardGrafts, state: CaseState, stamp: e.Stamp) -> e.GraftsDiscarded:
    """Grafts that were in no dish yet, of a harvest, or drawn from where they waited."""
    size, count, harvest, lane = command.size, command.count, command.harvest, command.lane
    places = e.GraftsDiscarded.does.takes_from
    return e.GraftsDiscarded(
        size=size,
        reason=command.reason,
        count=count,
        harvest=harvest,
        drawn=() if harvest is not None else draw(state.tally, size, count, None, places, lane),
        lane=lane,
        by=_placer(state, lane),
    )


@to_event.register
def reseated(command: c.ReseatGraft, state: CaseState, stamp: e.Stamp) -> e.GraftReseated:
    """The grafts put back, by the placer of their lane."""
    lane = command.lane
    return e.GraftReseated(zone=command.zone, count=command.count, lane=lane, by=_placer(state, lane))


@to_event.register
def fate_given(command: c.GiveFate, state: CaseState, stamp: e.Stamp) -> e.FateGiven:
    """The grafts of one group, and what becomes of them."""
    drawn = (e.Drawn(harvest=command.harvest, place=command.place, count=command.count),)
    reason = None if command.reason is None else clean(command.reason)
    rest = {name: value for name, value in asdict(command).items() if name not in ("harvest", "place")}
    return e.FateGiven(**{**rest, "drawn": drawn, "reason": reason})


@to_event.register
def lane_handed_over(command: c.HandOverLane, state: CaseState, stamp: e.Stamp) -> e.LaneHandedOver:
    """From whom it was taken over; of a lane that is not open from nobody, which is refused."""
    return e.LaneHandedOver(lane=command.lane, by=command.by, left=_placer(state, command.lane) or "")


@to_event.register
def moved(command: c.MovePlacing, state: CaseState, stamp: e.Stamp) -> e.PlacingMoved:
    """The move of a placing; of an entry that is none it says nothing, and is refused."""
    number, zone, placing = command.entry, command.zone, state.entry(command.entry)
    if placing is None or not isinstance(placing.event, e.GraftsPlaced):
        return e.PlacingMoved(entry=number, from_zone="", zone=zone, size="", count=0)
    size, count = placing.event.size, placing.event.count
    return e.PlacingMoved(entry=number, from_zone=zone_of(state, placing), zone=zone, size=size, count=count)


@to_event.register
def harvest_started(command: c.StartHarvest, state: CaseState, stamp: e.Stamp) -> e.HarvestStarted:
    """When it started, so long ago."""
    return e.HarvestStarted(harvest=command.harvest, started_at_ms=stamp.at_ms - _ms(command.minutes_ago))


@to_event.register
def segment_cut(command: c.FinishSegment, state: CaseState, stamp: e.Stamp) -> e.SegmentCut:
    """The first segment of the harvest that is not finished."""
    finished = state.tally.harvests.get(command.harvest, HarvestClock()).segments
    number = next(number for number in counting(1) if number not in finished)
    return e.SegmentCut(harvest=command.harvest, segment=number, length_mm=command.length_mm)


@to_event.register
def care_given(command: c.GiveCare, state: CaseState, stamp: e.Stamp) -> e.CareGiven:
    """The round, and when it was due."""
    care, lane = command.care, command.lane
    due = due_at_ms(state.tally, care, lane)
    return e.CareGiven(care=care, due_at_ms=due, temperature_c=command.temperature_c, lane=lane)


@to_event.register
def prompt_paused(command: c.PausePrompt, state: CaseState, stamp: e.Stamp) -> e.PromptPaused:
    """Until when the prompt rests."""
    return e.PromptPaused(care=command.care, until_ms=stamp.at_ms + _ms(command.minutes))


@to_event.register
def break_planned(command: c.PlanBreak, state: CaseState, stamp: e.Stamp) -> e.BreakPlanned:
    """When the break starts."""
    starts = stamp.at_ms + _ms(command.in_minutes)
    return e.BreakPlanned(starts_at_ms=starts, minutes=command.minutes, work=command.work)


@to_event.register
def keys_set_aside(command: c.SetKeysAside, state: CaseState, stamp: e.Stamp) -> e.KeysSetAside:
    """How many keys, and which if it was one."""
    which = command.keys[0] if len(set(command.keys)) == 1 else SEVERAL_KEYS
    count = len(command.keys) + command.more
    return e.KeysSetAside(cause=command.cause, keys=which, count=count, counted=command.counted)


@to_event.register
def record_differed(command: c.TellDifference, state: CaseState, stamp: e.Stamp) -> e.RecordDiffered:
    """The difference as it was found."""
    return command.differed


@to_event.register
def mismatch_explained(command: c.ExplainMismatch, state: CaseState, stamp: e.Stamp) -> e.MismatchExplained:
    """As much of it as is there and was shown: what nobody has seen stays open."""
    now = {each.key: each.amount for each in mismatches(state)}.get(command.mismatch, 0)
    amount = now if command.amount is None else min(command.amount, now, key=abs)
    return e.MismatchExplained(mismatch=command.mismatch, amount=amount, text=clean(command.text))


@to_event.register
def taken_back(command: c.TakeBack, state: CaseState, stamp: e.Stamp) -> e.EntryCorrected:
    """The correction of this person's last tap here."""
    return e.EntryCorrected(entry=_last_own(state, command.role, stamp), reason="taken back")


@to_event.register
def tap_cancelled(command: c.CancelTap, state: CaseState, stamp: e.Stamp) -> e.EntryCorrected:
    """The correction of what a tap became."""
    return e.EntryCorrected(entry=_entry_of(state, stamp.station, command.tap), reason=command.reason)


@to_event.register
def dish_counted(command: c.CountDish, state: CaseState, stamp: e.Stamp) -> e.DishCounted:
    """What was found, and what the tally has or was seen to have."""
    size, harvest, place, tallied = command.size, command.harvest, command.place, command.tallied
    if tallied is None:
        tallied = state.tally.stock.get(Stock(size, harvest, place), 0)
    return e.DishCounted(size=size, harvest=harvest, place=place, tallied=tallied, found=command.found)


@to_event.register
def count_given_up(command: c.GiveUpCount, state: CaseState, stamp: e.Stamp) -> e.FinalCountGivenUp:
    """The count named, or the one under way here."""
    return e.FinalCountGivenUp(begun=command.begun or _begun_here(state, stamp))


@to_event.register
def counted(command: c.CountAll, state: CaseState, stamp: e.Stamp) -> e.FinalCounted:
    """What was found since the entry named, or since the count under way here was begun."""
    since = command.since
    if since is None:
        since = _begun_here(state, stamp)
    return e.FinalCounted(groups=command.groups, since=since, recount_of=command.recount_of)


@to_event.register
def signed_off(command: c.SignOff, state: CaseState, stamp: e.Stamp) -> e.CaseSignedOff:
    """One reason for all covers whatever is open and has none of its own, each by its name."""
    because, informed = (clean(each or "") or None for each in (command.open_because, command.informed))
    named = {each.key for each in command.left_open}
    rest = [each for each in open_at_sign_off(state) if because and informed and each.key not in named]
    return e.CaseSignedOff(
        second=command.second,
        open_because=None if rest else because,
        informed=None if rest else informed,
        confirmed=command.confirmed,
        left_open=(
            *(
                replace(each, because=clean(each.because), informed=clean(each.informed))
                for each in command.left_open
            ),
            *(
                e.LeftOpen(key=each.key, sentence=each.sentence, because=str(because), informed=str(informed))
                for each in rest
            ),
        ),
    )


def _begun_here(state: CaseState, stamp: e.Stamp) -> int:
    """The entry that began the count under way at this station; 0 if none is."""
    here = state.tally.counting.get(stamp.station)
    return 0 if here is None else here.seq


def _ms(minutes: float) -> int:
    """Minutes in whole ms; what is not a finite number becomes longer than any rule allows."""
    ms = minutes * 60_000
    return round(ms) if math.isfinite(ms) else 10**15


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
