"""What people ask for, in the imperative. ``decide`` turns each into one event or refuses it."""

from typing import ClassVar

from msgspec import Struct

from orroom.case import events as e
from orroom.case import terms
from orroom.case.plan import Plan


class Command(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, rename=terms.AS_RECORDED):
    """Base of all commands. One that says all there is to say names the event it ``becomes``."""

    becomes: ClassVar[type[e.AnyEvent]]


class TakeGrafts(Command, frozen=True, kw_only=True):
    """Base of commands that take waiting grafts of a size: of a harvest or the oldest; in a ``lane``."""

    size: str
    count: int
    harvest: str | None = None
    lane: str | None = None


class OpenCase(Command, frozen=True, kw_only=True):
    """Begin a case with this plan."""

    becomes = e.CaseOpened
    plan: Plan
    utc_offset_minutes: int = 0


class RevisePlan(Command, frozen=True, kw_only=True):
    """Replace the plan, with the reason and, from a re-plan, what is to be divided."""

    becomes = e.PlanRevised
    plan: Plan
    reason: str
    divide: tuple[e.ToDivide, ...] | None = None


class JoinStation(Command, frozen=True, kw_only=True):
    """Put a keyboard in front of a role, with this version of the program."""

    becomes = e.StationJoined
    role: terms.Role
    version: str | None = None


class LeaveStation(Command, frozen=True, kw_only=True):
    """Close this station, and how that came."""

    becomes = e.StationLeft
    reason: str = "left"


class StartHarvest(Command, frozen=True, kw_only=True):
    """A harvest left the body just now, or ``minutes_ago``."""

    harvest: str
    minutes_ago: float = 0


class EndHarvest(Command, frozen=True, kw_only=True):
    """All of a harvest is out."""

    becomes = e.HarvestEnded
    harvest: str


class FinishSegment(Command, frozen=True, kw_only=True):
    """The present segment of a harvest's strip is finished; how long it was, if that was measured."""

    harvest: str
    length_mm: float | None = None


class CutGrafts(Command, frozen=True, kw_only=True):
    """Enter grafts cut from a harvest."""

    becomes = e.GraftsCut
    harvest: str
    size: str
    count: int = 1


class DivideGrafts(Command, frozen=True, kw_only=True):
    """Divide waiting grafts of a size into smaller ones."""

    size: str
    into: tuple[str, ...]
    count: int = 1
    harvest: str | None = None


class DiscardGrafts(Command, frozen=True, kw_only=True):
    """Give grafts up: while cutting (``harvest`` given, never counted before), or of those that wait."""

    size: str
    reason: terms.DiscardReason
    count: int = 1
    harvest: str | None = None
    lane: str | None = None


class MakeSites(Command, frozen=True, kw_only=True):
    """Enter recipient sites made in a zone, ``by`` the plan's first surgeon if nobody is named."""

    zone: str
    count: int
    by: str | None = None


class SetStickAndPlace(Command, frozen=True, kw_only=True):
    """Say that placing makes the sites of a zone from now on, or that they are entered again."""

    becomes = e.StickAndPlaceSet
    zone: str
    on: bool = True


class IssueGrafts(TakeGrafts, frozen=True, kw_only=True):
    """Hand grafts from dish to placers."""

    becomes = e.GraftsIssued


class ReturnGrafts(TakeGrafts, frozen=True, kw_only=True):
    """Put grafts back from the placers to its dish."""

    becomes = e.GraftsReturned


class PlaceGrafts(TakeGrafts, frozen=True, kw_only=True):
    """Enter grafts placed into a zone."""

    becomes = e.GraftsPlaced
    zone: str


class MovePlacing(Command, frozen=True, kw_only=True):
    """Say that the grafts of a placing, by its entry's number, went into another zone."""

    entry: int
    zone: str


class ReseatGraft(Command, frozen=True, kw_only=True):
    """Enter grafts that popped and were put back."""

    zone: str
    count: int = 1
    lane: str | None = None


class GiveCare(Command, frozen=True, kw_only=True):
    """Answer a care prompt, or that of one ``lane``; a temperature round takes its reading in °C."""

    care: str
    temperature_c: float | None = None
    lane: str | None = None


class PausePrompt(Command, frozen=True, kw_only=True):
    """Let a care prompt rest for some minutes."""

    care: str
    minutes: float


class CheckSpot(Command, frozen=True, kw_only=True):
    """Enter a close look at a few grafts: whose work, which faults, the follicles if they were counted."""

    becomes = e.SpotChecked
    subject: terms.CheckSubject
    looked_at: int
    faulty: int
    fault: str | None = None
    zone: str | None = None
    follicles: int | None = None
    transected: int | None = None
    whose: str | None = None
    faults: tuple[e.FaultFound, ...] | None = None


class OpenLane(Command, frozen=True, kw_only=True):
    """Say who places in a lane from now on."""

    becomes = e.LaneOpened
    lane: str
    by: str


class HandOverLane(Command, frozen=True, kw_only=True):
    """Give a lane, with the grafts that are in it, to another placer."""

    lane: str
    by: str


class CloseLane(Command, frozen=True, kw_only=True):
    """Say that nobody places in a lane any more."""

    becomes = e.LaneClosed
    lane: str


class HandOver(Command, frozen=True, kw_only=True):
    """Take the station over from ``left``."""

    becomes = e.HandedOver
    left: str


class StartBreak(Command, frozen=True, kw_only=True):
    """Go on a break."""

    becomes = e.BreakStarted


class EndBreak(Command, frozen=True, kw_only=True):
    """Come back from a break."""

    becomes = e.BreakEnded


class ChangeTeam(Command, frozen=True, kw_only=True):
    """Say how many people are at a work from now on."""

    becomes = e.TeamChanged
    work: terms.Work
    people: int


class PlanBreak(Command, frozen=True, kw_only=True):
    """Say that a work, or everybody, will rest in ``in_minutes`` for ``minutes``."""

    in_minutes: float
    minutes: float
    work: terms.Work | None = None


class AddNote(Command, frozen=True, kw_only=True):
    """Write a remark into the record."""

    becomes = e.NoteAdded
    text: str


class SetKeysAside(Command, frozen=True, kw_only=True):
    """Record ``keys`` and ``more`` that no hand pressed, and whether they were counted all the same."""

    cause: terms.SetAsideCause
    keys: tuple[str, ...]
    counted: bool
    more: int = 0


class TellClockStep(Command, frozen=True, kw_only=True):
    """Record that the machine's clock was set by this many ms, or so far behind when it was started again."""

    becomes = e.ClockStepped
    by_ms: int
    at_start: bool | None = None


class TellDifference(Command, frozen=True, kw_only=True):
    """Record in what the file is not the record whose seal was kept next to it."""

    differed: e.RecordDiffered


class ExplainMismatch(Command, frozen=True, kw_only=True):
    """Explain a mismatch on the screen; ``amount`` is what was shown there."""

    mismatch: str
    text: str
    amount: int | None = None


class AnswerLimit(Command, frozen=True, kw_only=True):
    """Say what was done about a limit that was broken, by its key."""

    becomes = e.LimitAnswered
    limit: str
    done: str


class TakeBack(Command, frozen=True, kw_only=True):
    """Take back this person's own last tap at this station and role."""

    role: terms.Role


class CancelTap(Command, frozen=True, kw_only=True):
    """Cancel what an earlier tap of this station became, by the tap's number."""

    tap: int
    reason: str


class CorrectEntry(Command, frozen=True, kw_only=True):
    """Cancel an entry by its number, with the reason."""

    becomes = e.EntryCorrected
    entry: int
    reason: str


class CountDish(Command, frozen=True, kw_only=True):
    """Enter a hand count of one size of one harvest; refused where the tally has not ``tallied``."""

    size: str
    harvest: str
    found: int
    place: terms.Place = "dish"
    tallied: int | None = None


class GiveFate(Command, frozen=True, kw_only=True):
    """Say what becomes of grafts of one size and harvest that are left in dishes or with the placers.

    Of those in a ``lane`` if one is named. Grafts placed beyond the plan went ``into_zone``, ``by`` whom.
    """

    size: str
    harvest: str
    place: terms.Place
    count: int
    fate: terms.Fate
    reason: str | None = None
    into_zone: str | None = None
    lane: str | None = None
    by: str | None = None


class BeginCount(Command, frozen=True, kw_only=True):
    """Begin to count all that is left, at this station."""

    becomes = e.FinalCountBegun


class GiveUpCount(Command, frozen=True, kw_only=True):
    """Cancel the count of entry ``begun``, or with ``None`` the one under way at this station."""

    begun: int | None = None


class CountAll(Command, frozen=True, kw_only=True):
    """Enter a person's count of all that is left, or with ``recount_of`` (an entry) of what was recounted.

    It was begun after entry ``since``, or with ``None`` when this station's count was.
    """

    groups: tuple[e.CountedGroup, ...]
    since: int | None = None
    recount_of: int | None = None


class SignOff(Command, frozen=True, kw_only=True):
    """Close the case by two: why each thing is open, else ``open_because`` and ``informed`` for all."""

    second: str
    open_because: str | None = None
    informed: str | None = None
    confirmed: tuple[terms.SignOutItem, ...] | None = None
    left_open: tuple[e.LeftOpen, ...] = ()


class ReopenCase(Command, frozen=True, kw_only=True):
    """Open a signed-off case again, with the reason."""

    becomes = e.CaseReopened
    reason: str
