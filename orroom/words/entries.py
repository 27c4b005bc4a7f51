"""What each entry says, in one short plain sentence: for the last entries on a screen and the summary.

Sentences are text, never markup: notes and reasons in them are shown as they were written.
"""

from typing import assert_never

from orroom.case import events as e
from orroom.case.evidence import in_short
from orroom.case.plan import Plan
from orroom.case.terms import FATES, PLACERS_CARE, WORK_NAMES, Place, lane_name, size_named
from orroom.figures.wording import grafts, minutes_seconds, several

#: The reason that the record has for an undone tap, and what is said of one.
TAKEN_BACK, UNDONE = "taken back", "undone"
#: Where a hand count was made.
COUNTED: dict[Place, str] = {"dish": "dish counted", "bench": "with placers counted"}


def size_label(plan: Plan, size: str) -> str:
    """A size as the plan calls it, or its key if the plan in force has no such size."""
    known = plan.size_by_key.get(size)
    return known.label if known else f"size {size}"


def zone_label(plan: Plan, zone: str) -> str:
    """A zone as the plan calls it, or its key if the plan in force has no such zone."""
    known = plan.zone_by_key.get(zone)
    return known.label if known else zone


def harvest_label(plan: Plan, harvest: str) -> str:
    """A harvest as the plan calls it, or its key if the plan in force has no such harvest."""
    known = plan.harvest_by_key.get(harvest)
    return known.label if known else f"harvest {harvest}"


def care_label(plan: Plan, care: str) -> str:
    """A care round as the plan calls it, or its key if the plan in force has no such round."""
    if care == PLACERS_CARE:
        return "wet the grafts with the placers"
    known = plan.care_by_key.get(care)
    return known.label if known else care


def entry_words(event: e.AnyEvent, plan: Plan) -> str:
    """What ``event`` says, in the words of ``plan``. Most fit in 44 columns; long labels and notes do not."""
    match event:
        case e.CaseOpened():
            return f"case {event.plan.case} opened"
        case e.PlanRevised(reason=reason):
            return f"plan revised: {reason}"
        case e.StationJoined(role=role):
            return f"{role} station opened"
        case e.StationLeft(reason=reason):
            return "station closed" if reason == "left" else f"station closed: {reason}"
        case e.HarvestStarted(harvest=harvest):
            return f"harvest started: {harvest_label(plan, harvest)}"
        case e.HarvestEnded(harvest=harvest):
            return f"harvest ended: {harvest_label(plan, harvest)}"
        case e.SegmentCut(harvest=harvest, segment=segment, length_mm=length):
            measured = "" if length is None else f", {length:g} mm"
            return f"segment {segment} of {harvest_label(plan, harvest)} done{measured}"
        case e.GraftsCut(harvest=harvest, size=size, count=count):
            of_harvest = f", {harvest_label(plan, harvest)}" if len(plan.harvest_by_key) > 1 else ""
            return f"+{_of_size(count, size)}{of_harvest}"
        case e.GraftsDivided():
            return _divided(event)
        case e.GraftsDiscarded(size=size, count=count, reason=reason, harvest=harvest):
            stage = " in cutting" if harvest is not None else ""
            return f"discarded {_of_size(count, size)}{stage}, {reason}"
        case e.SitesMade() | e.StickAndPlaceSet():
            return _sites(event, plan)
        case e.GraftsIssued(size=size, count=count):
            return f"{_of_size(count, size)} to {_whose(event) or 'the placers'}"
        case e.GraftsReturned(size=size, count=count):
            return f"{_of_size(count, size)} back to the dish{_from(event)}"
        case e.GraftsPlaced(zone=zone, size=size, count=count):
            return f"{_of_size(count, size)} → {zone_label(plan, zone)}{_from(event)}"
        case e.PlacingMoved(entry=entry, zone=zone):
            return f"entry {entry} moved to {zone_label(plan, zone)}: {_of_size(event.count, event.size)}"
        case e.GraftReseated(zone=zone, count=count):
            return f"{grafts(count)} reseated in {zone_label(plan, zone)}{_from(event)}"
        case e.CareGiven(lane=str(lane)):
            return f"wet {lane_name(lane)}'s grafts"
        case e.LaneOpened() | e.LaneHandedOver() | e.LaneClosed():
            return _lane(event)
        case e.CareGiven(care=care, temperature_c=reading):
            return care_label(plan, care) + ("" if reading is None else f" {reading:.1f} °C")
        case e.PromptPaused(care=care):
            return f"prompt paused: {care_label(plan, care)}"
        case e.SpotChecked():
            return _spot_checked(event, plan)
        case e.HandedOver(left=left):
            return f"replaced {left}"
        case e.BreakStarted() | e.BreakEnded():
            return f"break {'started' if isinstance(event, e.BreakStarted) else 'ended'}"
        case e.TeamChanged(work=work, people=people):
            return f"{several(people, 'person', 'people')} {WORK_NAMES[work]}"
        case e.BreakPlanned(minutes=minutes, work=work):
            return f"break planned: {'everybody' if work is None else WORK_NAMES[work]}, {minutes:g} min"
        case e.KeysSetAside(cause=cause, keys=keys, count=count, counted=counted):
            taps = several(count, "click" if keys == "click" else "key")
            why = {"held": "held down", "burst": "in a burst", "bounce": "bounced after an answer"}
            return f"{taps} {'counted' if counted else 'not counted'}, {why[cause]}"
        case e.ClockStepped(at_start=True):
            return "clock was behind after a restart; time continued from the last entry"
        case e.ClockStepped(by_ms=by_ms):
            return f"clock set {'forward' if by_ms > 0 else 'back'} by {minutes_seconds(by_ms)}"
        case e.EntriesLost(count=count):
            return f"{several(count, 'entry', 'entries')} that had been saved gone"
        case e.RecordDiffered():
            return in_short(event)
        case e.NoteAdded(text=text):
            return f"note: {text}"
        case e.MismatchExplained(text=text):
            return f"mismatch explained: {text}"
        case e.LimitAnswered(done=done):
            return f"broken limit: {done}"
        case e.EntryCorrected(entry=entry, reason=reason):
            return f"entry {entry} {UNDONE}" if reason == TAKEN_BACK else f"entry {entry} cancelled: {reason}"
        case e.DishCounted(size=size, place=place, tallied=tallied, found=found):
            return f"{COUNTED[place]}: {_of_size(found, size)}, tally {grafts(tallied)}"
        case e.FateGiven(size=size, count=count, fate=fate):
            into = f" → {zone_label(plan, event.into_zone)}" if event.into_zone else ""
            return f"{_of_size(count, size)}{into}: {FATES[fate]}"
        case e.FinalCountBegun() | e.FinalCountGivenUp() | e.FinalCounted():
            return _count(event)
        case e.CaseSignedOff(second=second, open_because=None, left_open=left):
            return f"signed off with {second}" + (
                f", {several(len(left), 'thing')} left open" if left else ""
            )
        case e.CaseSignedOff(second=second, open_because=reason, informed=informed):
            return f"signed with {second}, open: {reason} ({informed} informed)"
        case e.CaseReopened(reason=reason):
            return f"reopened: {reason}"
        case _:
            assert_never(event)


def _of_size(count: int, size: str) -> str:
    """``18 twos``: never ``18 × 2 hairs``, which may be 18 hairs."""
    return f"{grafts(count)} {size_named(size, count)}"


def _count(event: e.FinalCountBegun | e.FinalCountGivenUp | e.FinalCounted) -> str:
    match event:
        case e.FinalCountBegun():
            return "final count begun"
        case e.FinalCountGivenUp(begun=begun):
            return f"final count begun in entry {begun} stopped"
        case e.FinalCounted(groups=groups, recount_of=before):  # what was found is for the comparison alone
            return f"final count of {several(len(groups), 'group')}" + (" again" if before else "")


def _lane(event: e.LaneOpened | e.LaneHandedOver | e.LaneClosed) -> str:
    match event:
        case e.LaneOpened(lane=lane, by=by):
            return f"{lane_name(lane)} opened for {by}"
        case e.LaneHandedOver(lane=lane, by=by, left=left):
            return f"{lane_name(lane)}: {by} replaced {left}"
        case e.LaneClosed(lane=lane):
            return f"{lane_name(lane)} closed"


def _sites(event: e.SitesMade | e.StickAndPlaceSet, plan: Plan) -> str:
    zone = zone_label(plan, event.zone)
    if isinstance(event, e.StickAndPlaceSet):
        return f"{zone}: {'stick and place' if event.on else 'sites entered again'}"
    return f"{several(event.count, 'site')} made in {zone}{f' by {event.by}' if event.by else ''}"


def _whose(event: e.GraftsIssued | e.GraftsReturned | e.GraftsPlaced | e.GraftReseated) -> str:
    return "" if event.lane is None else lane_name(event.lane)


def _from(event: e.GraftsReturned | e.GraftsPlaced | e.GraftReseated) -> str:
    return "" if event.lane is None else f" ({_whose(event)})"


def _divided(event: e.GraftsDivided) -> str:
    into = " + ".join(size_named(each, 1) for each in event.into)
    hairs = "hair" if event.hairs_lost == 1 else "hairs"
    lost = f", {event.hairs_lost:g} {hairs} lost" if event.hairs_lost else ""
    return f"{_of_size(event.count, event.size)} divided: {into}{lost}"


def faults_found(event: e.SpotChecked) -> str:
    """The faults of a spot check, with their numbers where there are several: ``2 too deep, 1 crushed``."""
    if len(event.by_fault) == 1:
        return event.by_fault[0].fault
    return ", ".join(f"{each.count} {each.fault}" for each in event.by_fault)


def _spot_checked(event: e.SpotChecked, plan: Plan) -> str:
    where = "" if event.zone is None else f" in {zone_label(plan, event.zone)}"
    whose = "" if event.whose is None else f"{event.whose}'s "
    fault = faults_found(event)
    said = f"{whose}{event.subject} checked{where}: {event.faulty} of {event.looked_at} faulty"
    said += f", {fault}" if fault else ""
    if event.follicles is None:
        return said
    return f"{said}; {event.transected} of {several(event.follicles, 'follicle')} transected"
