"""What happened, in the past tense: the only stored truth. Nothing here is ever edited or deleted.

Each event has a fixed short ``kind``, which is what a stored row carries; moving a class breaks no record.
Times are UTC milliseconds, temperatures °C, counts grafts unless the name says otherwise.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, get_args

from orroom.case.plan import Plan
from orroom.case.terms import CheckSubject, DiscardReason, Place, Role, SetAsideCause, SignOutItem, Work


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawn:
    """Grafts taken from one place of one lot: what a placing, a discard, an issue or a return drew on."""

    lot: str
    place: Place
    count: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """Base of all events."""

    kind: ClassVar[str]


@dataclass(frozen=True, slots=True, kw_only=True)
class CaseOpened(Event):
    """The case began with this plan; times are shown at this offset from UTC, in minutes east."""

    kind = "case_opened"
    plan: Plan
    utc_offset_minutes: int


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanRevised(Event):
    """The surgeon changed the plan; the whole new plan is kept, and why."""

    kind = "plan_revised"
    plan: Plan
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class StationJoined(Event):
    """A keyboard was put in front of a role; the entry's station is its name from now on."""

    kind = "station_joined"
    role: Role


@dataclass(frozen=True, slots=True, kw_only=True)
class StationLeft(Event):
    """A station was closed, and how: by its person, by a signal, with its terminal."""

    kind = "station_left"
    reason: str = "left"


@dataclass(frozen=True, slots=True, kw_only=True)
class HarvestStarted(Event):
    """A lot left the body at ``started_at_ms``: its time out of the body counts from there."""

    kind = "harvest_started"
    lot: str
    started_at_ms: int


@dataclass(frozen=True, slots=True, kw_only=True)
class HarvestEnded(Event):
    """All of a lot is out of the body."""

    kind = "harvest_ended"
    lot: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SegmentCut(Event):
    """A segment of the strip is finished; every graft cut from it has been entered."""

    kind = "segment_cut"
    lot: str
    segment: int
    length_mm: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class GraftsCut(Event):
    """Grafts were cut and put into the dish of their size and lot."""

    kind = "grafts_cut"
    lot: str
    size: str
    count: int


@dataclass(frozen=True, slots=True, kw_only=True)
class GraftsDivided(Event):
    """``count`` waiting grafts were each divided into grafts of the sizes ``into``."""

    kind = "grafts_divided"
    size: str
    into: tuple[str, ...]
    count: int
    hairs_lost: float
    drawn: tuple[Drawn, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class GraftsDiscarded(Event):
    """Grafts were given up.

    With ``lot`` they were never put into a dish (given up while cutting); otherwise ``drawn`` says which
    waiting grafts they were.
    """

    kind = "grafts_discarded"
    size: str
    count: int
    reason: DiscardReason
    lot: str | None = None
    drawn: tuple[Drawn, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class SitesMade(Event):
    """Recipient sites were made in a zone."""

    kind = "sites_made"
    zone: str
    count: int


@dataclass(frozen=True, slots=True, kw_only=True)
class GraftsIssued(Event):
    """Grafts went from dish to bench: their drying clock starts."""

    kind = "grafts_issued"
    size: str
    count: int
    drawn: tuple[Drawn, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class GraftsReturned(Event):
    """Grafts went back from bench to dish."""

    kind = "grafts_returned"
    size: str
    count: int
    drawn: tuple[Drawn, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class GraftsPlaced(Event):
    """Grafts were placed into a zone; ``drawn`` is where the tally takes them from, oldest lot first."""

    kind = "grafts_placed"
    zone: str
    size: str
    count: int
    drawn: tuple[Drawn, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class GraftReseated(Event):
    """Grafts popped and were put back: the placed total does not change."""

    kind = "graft_reseated"
    zone: str
    count: int


@dataclass(frozen=True, slots=True, kw_only=True)
class CareGiven(Event):
    """A care round was done. ``due_at_ms`` is when it was due, ``None`` before the first harvest."""

    kind = "care_given"
    care: str
    due_at_ms: int | None
    temperature_c: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class PromptPaused(Event):
    """A care prompt rests until ``until_ms`` and then comes back by itself."""

    kind = "prompt_paused"
    care: str
    until_ms: int


@dataclass(frozen=True, slots=True, kw_only=True)
class SpotChecked(Event):
    """Somebody looked at a few grafts closely: how many, how many faulty, what fault.

    Where follicles were counted too: how many there were in those grafts, and how many of them transected.
    """

    kind = "spot_checked"
    subject: CheckSubject
    zone: str | None
    looked_at: int
    faulty: int
    fault: str | None
    follicles: int | None = None
    transected: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ShiftChanged(Event):
    """``left`` handed the station to the person of this entry."""

    kind = "shift_changed"
    left: str


@dataclass(frozen=True, slots=True, kw_only=True)
class BreakStarted(Event):
    """The person of this entry went on a break."""

    kind = "break_started"


@dataclass(frozen=True, slots=True, kw_only=True)
class BreakEnded(Event):
    """The person of this entry came back."""

    kind = "break_ended"


@dataclass(frozen=True, slots=True, kw_only=True)
class TeamChanged(Event):
    """So many people are at a work from now on, whoever makes its entries."""

    kind = "team_changed"
    work: Work
    people: int


@dataclass(frozen=True, slots=True, kw_only=True)
class BreakPlanned(Event):
    """A work will rest from ``starts_at_ms`` for so many minutes; without ``work`` everybody rests."""

    kind = "break_planned"
    starts_at_ms: int
    minutes: float
    work: Work | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class NoteAdded(Event):
    """A remark for the record."""

    kind = "note_added"
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class KeysSetAside(Event):
    """Keys that no hand pressed, how many, and whether the person asked had them counted all the same.

    ``keys`` is the key held down, or ``several``: what a scanner read has no place in a record.
    """

    kind = "keys_set_aside"
    cause: SetAsideCause
    keys: str
    count: int
    counted: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class ClockStepped(Event):
    """The machine's clock was set forward (back: negative) while the case ran; durations did not change."""

    kind = "clock_stepped"
    by_ms: int


@dataclass(frozen=True, slots=True, kw_only=True)
class EntriesLost(Event):
    """The file had fewer entries than were known to be on the disk: the last ``count`` of them are gone."""

    kind = "entries_lost"
    count: int


@dataclass(frozen=True, slots=True, kw_only=True)
class MismatchExplained(Event):
    """Somebody explained a mismatch of this size; if it grows it comes back."""

    kind = "mismatch_explained"
    mismatch: str
    amount: int
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class EntryCorrected(Event):
    """The named entry did not happen; its effect on every figure is cancelled."""

    kind = "entry_corrected"
    entry: int
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class DishCounted(Event):
    """The grafts of one size of one lot in one place were counted by hand: ``found`` against ``tallied``.

    The difference goes to missing (negative: more were found than tallied).
    """

    kind = "dish_counted"
    size: str
    lot: str
    place: Place
    tallied: int
    found: int


@dataclass(frozen=True, slots=True, kw_only=True)
class CountedPile:
    """How many grafts of one size and lot one person found in one place."""

    size: str
    lot: str
    place: Place
    found: int


@dataclass(frozen=True, slots=True, kw_only=True)
class FinalCounted(Event):
    """The person of this entry counted all that was left, blind to the tally and to the other count.

    A whole count is one entry: one that was broken off is none. The person's newest count holds. It was
    begun after entry ``since``.
    """

    kind = "final_counted"
    piles: tuple[CountedPile, ...]
    since: int


@dataclass(frozen=True, slots=True, kw_only=True)
class CaseSignedOff(Event):
    """The person of this entry and a second one closed the case.

    With an open difference: why it stays open, and who was told of it. ``confirmed`` are the sign-out items
    that were said aloud and confirmed.
    """

    kind = "case_signed_off"
    second: str
    open_because: str | None = None
    told: str | None = None
    confirmed: tuple[SignOutItem, ...] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class CaseReopened(Event):
    """A signed-off case was opened again, and why."""

    kind = "case_reopened"
    reason: str


AnyEvent = (
    CaseOpened
    | PlanRevised
    | StationJoined
    | StationLeft
    | HarvestStarted
    | HarvestEnded
    | SegmentCut
    | GraftsCut
    | GraftsDivided
    | GraftsDiscarded
    | SitesMade
    | GraftsIssued
    | GraftsReturned
    | GraftsPlaced
    | GraftReseated
    | CareGiven
    | PromptPaused
    | SpotChecked
    | ShiftChanged
    | BreakStarted
    | BreakEnded
    | TeamChanged
    | BreakPlanned
    | NoteAdded
    | KeysSetAside
    | ClockStepped
    | EntriesLost
    | MismatchExplained
    | EntryCorrected
    | DishCounted
    | FinalCounted
    | CaseSignedOff
    | CaseReopened
)

EVENT_KINDS: dict[str, type[Event]] = {each.kind: each for each in get_args(AnyEvent)}


@dataclass(frozen=True, slots=True)
class Stamp:
    """Who asked for an entry, where and when. ``tap`` numbers one station's taps from 1."""

    at_ms: int
    station: str
    tap: int
    who: str


@dataclass(frozen=True, slots=True)
class Entry:
    """One line of the record. ``seq`` is the only order; clocks of two stations may disagree."""

    seq: int
    stamp: Stamp
    event: AnyEvent
