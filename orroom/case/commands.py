"""What people ask for, in the imperative. ``decide`` turns each into one event or refuses it."""

from __future__ import annotations

from dataclasses import dataclass

from orroom.case.events import CountedPile
from orroom.case.plan import Plan
from orroom.case.terms import CheckSubject, DiscardReason, Place, Role, SetAsideCause, SignOutItem, Work


@dataclass(frozen=True, slots=True, kw_only=True)
class Command:
    """Base of all commands."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenCase(Command):
    """Begin a case with this plan."""

    plan: Plan
    utc_offset_minutes: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class RevisePlan(Command):
    """Replace the plan, with the reason."""

    plan: Plan
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class JoinStation(Command):
    """Put a keyboard in front of a role."""

    role: Role


@dataclass(frozen=True, slots=True, kw_only=True)
class LeaveStation(Command):
    """Close this station, and how that came."""

    reason: str = "left"


@dataclass(frozen=True, slots=True, kw_only=True)
class StartHarvest(Command):
    """A lot left the body just now, or ``minutes_ago``."""

    lot: str
    minutes_ago: float = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class EndHarvest(Command):
    """All of a lot is out."""

    lot: str


@dataclass(frozen=True, slots=True, kw_only=True)
class FinishSegment(Command):
    """The present segment of a lot's strip is finished; how long it was, if that was measured."""

    lot: str
    length_mm: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class CutGrafts(Command):
    """Enter grafts cut from a lot."""

    lot: str
    size: str
    count: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class DivideGrafts(Command):
    """Divide waiting grafts of a size into smaller ones."""

    size: str
    into: tuple[str, ...]
    count: int = 1
    lot: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class DiscardGrafts(Command):
    """Give grafts up: while cutting (``lot`` given, never counted before), or out of dish or bench."""

    size: str
    reason: DiscardReason
    count: int = 1
    lot: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class MakeSites(Command):
    """Enter recipient sites made in a zone."""

    zone: str
    count: int


@dataclass(frozen=True, slots=True, kw_only=True)
class IssueGrafts(Command):
    """Hand grafts from dish to bench."""

    size: str
    count: int
    lot: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ReturnGrafts(Command):
    """Put grafts back from bench to dish."""

    size: str
    count: int
    lot: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class PlaceGrafts(Command):
    """Enter grafts placed into a zone."""

    zone: str
    size: str
    count: int
    lot: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ReseatGraft(Command):
    """Enter grafts that popped and were put back."""

    zone: str
    count: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class GiveCare(Command):
    """Answer a care prompt; a temperature round takes its reading in °C."""

    care: str
    temperature_c: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class PausePrompt(Command):
    """Let a care prompt rest for some minutes."""

    care: str
    minutes: float


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckSpot(Command):
    """Enter a close look at a few grafts, and the follicles in them if they were counted."""

    subject: CheckSubject
    looked_at: int
    faulty: int
    fault: str | None = None
    zone: str | None = None
    follicles: int | None = None
    transected: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangeShift(Command):
    """Take the station over from ``left``."""

    left: str


@dataclass(frozen=True, slots=True, kw_only=True)
class StartBreak(Command):
    """Go on a break."""


@dataclass(frozen=True, slots=True, kw_only=True)
class EndBreak(Command):
    """Come back from a break."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangeTeam(Command):
    """Say how many people are at a work from now on."""

    work: Work
    people: int


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanBreak(Command):
    """Say that a work, or everybody, will rest in ``in_minutes`` for ``minutes``."""

    in_minutes: float
    minutes: float
    work: Work | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class AddNote(Command):
    """Write a remark into the record."""

    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SetKeysAside(Command):
    """Record keys that no hand pressed, and whether they were counted all the same."""

    cause: SetAsideCause
    keys: tuple[str, ...]
    counted: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class TellClockStep(Command):
    """Record that the machine's clock was set by so many ms."""

    by_ms: int


@dataclass(frozen=True, slots=True, kw_only=True)
class TellLoss(Command):
    """Record that the file has lost its last entries."""

    count: int


@dataclass(frozen=True, slots=True, kw_only=True)
class ExplainMismatch(Command):
    """Say what a mismatch on the screen comes from; ``amount`` is as large as it stood there."""

    mismatch: str
    text: str
    amount: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class TakeBack(Command):
    """Take back this person's own last tap at this station and role."""

    role: Role


@dataclass(frozen=True, slots=True, kw_only=True)
class CancelTap(Command):
    """Cancel what an earlier tap of this station became, by the tap's number."""

    tap: int
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CorrectEntry(Command):
    """Cancel an entry by its number, with the reason."""

    entry: int
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CountDish(Command):
    """Enter a hand count of one size of one lot in dishes or on the bench.

    With ``tallied`` it is refused unless the tally still holds that.
    """

    size: str
    lot: str
    found: int
    place: Place = "dish"
    tallied: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class CountAll(Command):
    """Enter one person's count of all that is left, pile by pile, begun after entry ``since``."""

    piles: tuple[CountedPile, ...]
    since: int


@dataclass(frozen=True, slots=True, kw_only=True)
class SignOff(Command):
    """Close the case together with a second person; with an open difference: why, and who was told."""

    second: str
    open_because: str | None = None
    told: str | None = None
    confirmed: tuple[SignOutItem, ...] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ReopenCase(Command):
    """Open a signed-off case again, with the reason."""

    reason: str


AnyCommand = (
    OpenCase
    | RevisePlan
    | JoinStation
    | LeaveStation
    | StartHarvest
    | EndHarvest
    | FinishSegment
    | CutGrafts
    | DivideGrafts
    | DiscardGrafts
    | MakeSites
    | IssueGrafts
    | ReturnGrafts
    | PlaceGrafts
    | ReseatGraft
    | GiveCare
    | PausePrompt
    | CheckSpot
    | ChangeShift
    | StartBreak
    | EndBreak
    | ChangeTeam
    | PlanBreak
    | AddNote
    | SetKeysAside
    | TellClockStep
    | TellLoss
    | ExplainMismatch
    | TakeBack
    | CancelTap
    | CorrectEntry
    | CountDish
    | CountAll
    | SignOff
    | ReopenCase
)
