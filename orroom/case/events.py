"""What happened, in the past tense: the only stored truth. Nothing here is ever edited or deleted.

Each event has a fixed short ``kind``, which is what a stored row carries; moving a class breaks no record.
Times are UTC milliseconds, temperatures °C, counts grafts unless the name says otherwise.
"""

from collections.abc import Callable
from typing import Annotated, ClassVar, get_args

from msgspec import Struct
from msgspec.structs import force_setattr

from orroom.case.kinds import Does
from orroom.case.plan import Plan
from orroom.case.terms import (
    AS_RECORDED,
    ROLES,
    CheckSubject,
    DiscardReason,
    Fate,
    Place,
    Role,
    SetAsideCause,
    SignOutItem,
    Work,
)
from orroom.case.traits import (
    AtMs,
    CareKey,
    Count,
    HarvestKey,
    Initials,
    LaneKey,
    SizeKey,
    Text,
    Trait,
    ZoneKey,
)


class Drawn(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, rename=AS_RECORDED):
    """Grafts taken from one place of one harvest: what a placing, a discard, an issue or a return drew on."""

    harvest: HarvestKey
    place: Place
    count: int


DrawnFrom = Annotated[tuple[Drawn, ...], Trait.DRAWN]


class Event(Struct, frozen=True, kw_only=True, gc=False, forbid_unknown_fields=True, rename=AS_RECORDED):
    """Base of all events. Every kind has a row of its own that says what it does."""

    kind: ClassVar[str]
    does: ClassVar[Does]


class Measured(Event, frozen=True, kw_only=True):
    """Base of events with measures: a whole number is kept as it is read back, else its hash would differ."""

    measures: ClassVar[tuple[str, ...]]

    def __post_init__(self) -> None:
        for name in self.measures:
            if isinstance(value := getattr(self, name), int):
                force_setattr(self, name, float(value))


class CaseOpened(Event, frozen=True, kw_only=True):
    """The case began with this plan; times are shown at this offset from UTC, in minutes east."""

    kind = "case_opened"
    does = Does(fills_zones=True, instead="opened the case; make a new case file instead")
    plan: Plan
    utc_offset_minutes: int


class ToDivide(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Grafts of a size that an accepted re-plan asks to divide, and into what."""

    size: SizeKey
    into: tuple[SizeKey, ...]
    count: Count


class PlanRevised(Event, frozen=True, kw_only=True):
    """The surgeon changed the plan; the whole new plan is kept, and why.

    ``divide`` is what an accepted re-plan asks to divide; ``None`` where no re-plan was accepted.
    """

    kind = "plan_revised"
    does = Does(fills_zones=True, instead="changed the plan; revise the plan again instead")
    plan: Plan
    reason: Text
    divide: tuple[ToDivide, ...] | None = None


class StationJoined(Event, frozen=True, kw_only=True):
    """A keyboard was put in front of a role; the entry's station is its name from now on.

    ``version`` is that of the program, which makes all entries of this station.
    """

    kind = "station_joined"
    does = Does(after_sign_off=True, instead="opened a station; it has no count to cancel")
    role: Role
    version: str | None = None


class StationLeft(Event, frozen=True, kw_only=True):
    """A station was closed, and how: by its person, by a signal, with its terminal."""

    kind = "station_left"
    does = Does(after_sign_off=True, instead="closed a station; it has no count to cancel")
    reason: Text = "left"


class HarvestStarted(Event, frozen=True, kw_only=True):
    """A harvest left the body at ``started_at_ms``: its time out of the body counts from there."""

    kind = "harvest_started"
    does = Does(hands_on=True, undone_at=ROLES)
    harvest: HarvestKey
    started_at_ms: AtMs


class HarvestEnded(Event, frozen=True, kw_only=True):
    """All of a harvest is out of the body."""

    kind = "harvest_ended"
    does = Does(hands_on=True, undone_at=ROLES)
    harvest: HarvestKey


class SegmentCut(Measured, frozen=True, kw_only=True):
    """A segment of the strip is finished; every graft cut from it has been entered."""

    kind = "segment_cut"
    does = Does(hands_on=True, leaves_prompts=True, undone_at=("cutting",))
    measures = ("length_mm",)
    harvest: HarvestKey
    segment: int
    length_mm: float | None = None


class GraftsCut(Event, frozen=True, kw_only=True):
    """Grafts were cut and put into the dish of their size and harvest."""

    kind = "grafts_cut"
    does = Does(
        moves="grafts", hands_on=True, output_of="cutting", leaves_prompts=True, undone_at=("cutting",)
    )
    harvest: HarvestKey
    size: SizeKey
    count: Count


class GraftsDivided(Measured, frozen=True, kw_only=True):
    """``count`` waiting grafts were each divided into grafts of the sizes ``into``."""

    kind = "grafts_divided"
    does = Does(
        moves="grafts", takes_from=("dish",), brings_to="divided_out", hands_on=True, undone_at=("cutting",)
    )
    measures = ("hairs_lost",)
    size: SizeKey
    into: tuple[SizeKey, ...]
    count: Count
    hairs_lost: float
    drawn: DrawnFrom


class GraftsDiscarded(Event, frozen=True, kw_only=True):
    """Grafts were discarded: of a ``harvest`` while cutting, otherwise ``drawn`` from those that waited."""

    kind = "grafts_discarded"
    does = Does(
        moves="grafts",
        takes_from=("bench", "dish"),
        brings_to="discarded",
        hands_on=True,
        undone_at=("cutting", "placing"),
    )
    size: SizeKey
    count: Count
    reason: DiscardReason
    harvest: HarvestKey | None = None
    drawn: DrawnFrom = ()
    lane: LaneKey | None = None
    by: Initials | None = None


class SitesMade(Event, frozen=True, kw_only=True, omit_defaults=True):
    """Recipient sites were made in a zone."""

    kind = "sites_made"
    does = Does(
        moves="numbers", hands_on=True, output_of="sites", leaves_prompts=True, undone_at=("placing",)
    )
    zone: ZoneKey
    count: Count
    by: Initials | None = None


class StickAndPlaceSet(Event, frozen=True, kw_only=True):
    """From now on placing makes the sites of a zone, or (``on`` is false) they are entered again.

    The plan in force says so from then on; sites made ahead are filled first.
    """

    kind = "stick_and_place_set"
    does = Does(fills_zones=True, leaves_prompts=True, undone_at=("placing",))
    zone: ZoneKey
    on: bool


class GraftsIssued(Event, frozen=True, kw_only=True, omit_defaults=True):
    """Grafts went from dish to placers, to those of a ``lane`` if one is named: their drying clock starts.

    Here and in all that placers do, ``by`` is whose hands they were, ``None`` if the person of the entry's.
    """

    kind = "grafts_issued"
    does = Does(
        moves="grafts", takes_from=("dish",), brings_to="bench", hands_on=True, undone_at=("placing",)
    )
    size: SizeKey
    count: Count
    drawn: DrawnFrom
    lane: LaneKey | None = None
    by: Initials | None = None


class GraftsReturned(Event, frozen=True, kw_only=True, omit_defaults=True):
    """Grafts went back from the placers to its dish."""

    kind = "grafts_returned"
    does = Does(
        moves="grafts", takes_from=("bench",), brings_to="dish", hands_on=True, undone_at=("placing",)
    )
    size: SizeKey
    count: Count
    drawn: DrawnFrom
    lane: LaneKey | None = None
    by: Initials | None = None


class GraftsPlaced(Event, frozen=True, kw_only=True, omit_defaults=True):
    """Grafts were placed into a zone; ``drawn`` is where the tally takes them from, oldest harvest first."""

    kind = "grafts_placed"
    does = Does(
        moves="grafts",
        takes_from=("bench", "dish"),
        brings_to="placed",
        hands_on=True,
        output_of="placing",
        fills_zones=True,
        undone_at=("placing",),
    )
    zone: ZoneKey
    size: SizeKey
    count: Count
    drawn: DrawnFrom
    lane: LaneKey | None = None
    by: Initials | None = None


class PlacingMoved(Event, frozen=True, kw_only=True):
    """All grafts of the placing ``entry`` went into ``zone``, not ``from_zone``; all else of it holds."""

    kind = "placing_moved"
    does = Does(moves="numbers", fills_zones=True, leaves_prompts=True, undone_at=ROLES)
    entry: int
    from_zone: str
    zone: ZoneKey
    size: SizeKey
    count: Count


class GraftReseated(Event, frozen=True, kw_only=True, omit_defaults=True):
    """Grafts popped and were put back: the placed total does not change."""

    kind = "graft_reseated"
    does = Does(moves="numbers", hands_on=True, leaves_prompts=True, undone_at=("placing",))
    zone: ZoneKey
    count: Count
    lane: LaneKey | None = None
    by: Initials | None = None


class CareGiven(Measured, frozen=True, kw_only=True):
    """A care round was done. ``due_at_ms`` is when it was due, ``None`` before the first harvest."""

    kind = "care_given"
    does = Does(hands_on=True, undone_at=ROLES)
    measures = ("temperature_c",)
    care: CareKey
    due_at_ms: AtMs | None
    temperature_c: float | None = None
    lane: LaneKey | None = None


class PromptPaused(Event, frozen=True, kw_only=True):
    """A care prompt rests until ``until_ms`` and then comes back by itself."""

    kind = "prompt_paused"
    does = Does(undone_at=ROLES)
    care: CareKey
    until_ms: AtMs


class FaultFound(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A fault of a spot check, and how many grafts had it."""

    fault: Text
    count: Count


class SpotChecked(Event, frozen=True, kw_only=True):
    """Somebody looked at a few grafts closely: how many, how many faulty; follicles if counted.

    Each faulty graft has one fault; ``fault`` is that of them all in older records. ``whose`` is ``None`` if
    it was nobody's work in particular.
    """

    kind = "spot_checked"
    does = Does(undone_at=ROLES)
    subject: CheckSubject
    zone: ZoneKey | None
    looked_at: int
    faulty: int
    fault: Text | None
    follicles: int | None = None
    transected: int | None = None
    whose: Initials | None = None
    faults: tuple[FaultFound, ...] | None = None

    @property
    def by_fault(self) -> tuple[FaultFound, ...]:
        """The faults, however they were entered; none where nobody said which."""
        if self.faults is None and self.fault is not None and self.faulty > 0:
            return (FaultFound(fault=self.fault, count=self.faulty),)
        return self.faults or ()


class LaneOpened(Event, frozen=True, kw_only=True):
    """The person ``by`` places in this lane from now on: grafts handed out to it are in their hands."""

    kind = "lane_opened"
    does = Does(undone_at=("placing",))
    lane: LaneKey
    by: Initials


class LaneHandedOver(Event, frozen=True, kw_only=True):
    """``by`` took over a lane from ``left`` with the grafts that were in it."""

    kind = "lane_handed_over"
    does = Does(undone_at=("placing",))
    lane: LaneKey
    by: Initials
    left: Initials


class LaneClosed(Event, frozen=True, kw_only=True):
    """Nobody places in this lane any more; it was empty."""

    kind = "lane_closed"
    does = Does(undone_at=("placing",))
    lane: LaneKey


class HandedOver(Event, frozen=True, kw_only=True):
    """``left`` handed the station to the person of this entry."""

    kind = "shift_changed"
    does = Does()
    left: Initials


class BreakStarted(Event, frozen=True, kw_only=True):
    """The person of this entry went on a break."""

    kind = "break_started"
    does = Does(undone_at=ROLES)


class BreakEnded(Event, frozen=True, kw_only=True):
    """The person of this entry came back."""

    kind = "break_ended"
    does = Does(undone_at=ROLES)


class TeamChanged(Event, frozen=True, kw_only=True):
    """So many people do a task from now on, no matter who makes its entries."""

    kind = "team_changed"
    does = Does(undone_at=ROLES)
    work: Work
    people: int


class BreakPlanned(Measured, frozen=True, kw_only=True):
    """A task pauses from ``starts_at_ms`` for this many minutes; without ``work`` everybody is on a break."""

    kind = "break_planned"
    does = Does(undone_at=ROLES)
    measures = ("minutes",)
    starts_at_ms: AtMs
    minutes: float
    work: Work | None = None


class NoteAdded(Event, frozen=True, kw_only=True):
    """A remark for the record."""

    kind = "note_added"
    does = Does(leaves_prompts=True, undone_at=ROLES)
    text: Text


class KeysSetAside(Event, frozen=True, kw_only=True):
    """Keys that no hand pressed: the one held down, or ``several``; how many, and whether they counted."""

    kind = "keys_set_aside"
    does = Does(instead="is an answer about keys set aside; cancel the entries they made instead")
    cause: SetAsideCause
    keys: Text
    count: int
    counted: bool


class ClockStepped(Event, frozen=True, kw_only=True):
    """The machine's clock was set forward (back: negative) while the case ran; durations did not change.

    Or, ``at_start``, it was behind the record after the machine was started again: the case's time went on
    from the last entry, and for how long the machine was off is not known.
    """

    kind = "clock_stepped"
    does = Does(instead="is a change of the clock; it has no count to cancel")
    by_ms: int
    at_start: bool | None = None


class EntriesLost(Event, frozen=True, kw_only=True):
    """The file had fewer entries than were known to be on the disk: the last ``count`` of them are gone."""

    kind = "entries_lost"
    does = Does(instead="says that entries were lost; explain the mismatch instead")
    count: Count


class RecordDiffered(Event, frozen=True, kw_only=True):
    """The file did not hold the record whose seal was kept next to it: that ended with entry ``anchored``.

    That entry had the one hash and has the other (``None``: there is none of that number). Both records are
    the same up to entry ``same`` (``None``: not known); the file ended with entry ``last``.
    """

    kind = "record_differed"
    does = Does(after_sign_off=True, instead="says that the record was changed; explain the mismatch instead")
    anchored: int
    expected_hash: str
    found_hash: str | None
    same: int | None
    last: int


class MismatchExplained(Event, frozen=True, kw_only=True):
    """Somebody explained a mismatch of this size; if it grows it comes back."""

    kind = "mismatch_explained"
    does = Does(leaves_prompts=True, undone_at=ROLES)
    mismatch: str
    amount: int
    text: Text


class LimitAnswered(Event, frozen=True, kw_only=True):
    """Somebody said what was done about a broken limit (``orroom.case.limits``)."""

    kind = "limit_answered"
    does = Does(leaves_prompts=True, undone_at=ROLES)
    limit: str
    done: Text


class EntryCorrected(Event, frozen=True, kw_only=True):
    """The named entry did not happen; its effect on every figure is cancelled."""

    kind = "entry_corrected"
    does = Does(fills_zones=True, instead="is itself a cancellation; enter again what happened")
    entry: int
    reason: Text


class DishCounted(Event, frozen=True, kw_only=True):
    """A hand count of one size of one harvest: what differs from ``tallied`` goes to missing."""

    kind = "dish_counted"
    does = Does(moves="numbers", undone_at=ROLES)
    size: SizeKey
    harvest: HarvestKey
    place: Place
    tallied: int
    found: int


class CountedGroup(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, rename=AS_RECORDED):
    """How many grafts of one size and harvest one person found in one place."""

    size: str
    harvest: str
    place: Place
    found: int


class FateGiven(Event, frozen=True, kw_only=True):
    """What became of grafts that were left at the end, in dishes or with the placers, and why if it is said.

    A final count outlasts it: they were counted before. Shares of quality do not change by it. Grafts that
    were placed beyond the plan count as placed ``into_zone``, by whom if it is said.
    """

    kind = "fate_given"
    does = Does(
        moves="numbers",
        takes_from=("bench", "dish"),
        brings_to="left_at_end",
        fills_zones=True,
        undone_at=("overview",),
    )
    size: SizeKey
    count: Count
    fate: Fate
    drawn: DrawnFrom
    reason: Text | None = None
    into_zone: ZoneKey | None = None
    lane: LaneKey | None = None
    by: Initials | None = None


class FinalCountBegun(Event, frozen=True, kw_only=True):
    """The person of this entry began to count here: no screen shows counts until it ends or they leave."""

    kind = "final_count_begun"
    does = Does(by_another=True, instead="began a count; stop the count at the overview instead")


class FinalCountGivenUp(Event, frozen=True, kw_only=True):
    """The count of entry ``begun`` goes no further: one under way, or a first one that waits for a second."""

    kind = "final_count_given_up"
    does = Does(by_another=True, instead="stopped a count; count again instead")
    begun: int


class FinalCounted(Event, frozen=True, kw_only=True):
    """The person of this entry counted all that was left, blind to the tally and to the other count.

    A whole count is one entry: one that was broken off is none. The person's newest count is valid. It was
    begun after entry ``since``. A recount has only the groups that differed; all others were found as the
    count of entry ``recount_of`` has them.
    """

    kind = "final_counted"
    does = Does(by_another=True)
    groups: tuple[CountedGroup, ...]
    since: int
    recount_of: int | None = None


class LeftOpen(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, rename=AS_RECORDED):
    """What was open when a case was signed off (``orroom.case.closing``), why, and who was informed."""

    key: str
    sentence: str
    because: Text
    informed: Text


class CaseSignedOff(Event, frozen=True, kw_only=True):
    """The person of this entry and a second one closed the case.

    ``left_open`` is everything that was open then, ``None`` in older records: those have one reason for a
    difference of the final count, and who was informed. ``confirmed`` are the sign-out items that were
    said aloud and confirmed.
    """

    kind = "case_signed_off"
    does = Does(by_another=True, instead="signed the case off; reopen the case instead")
    second: Initials
    open_because: Text | None = None
    informed: Text | None = None
    confirmed: tuple[SignOutItem, ...] | None = None
    left_open: tuple[LeftOpen, ...] | None = None


class CaseReopened(Event, frozen=True, kw_only=True):
    """A signed-off case was opened again, and why."""

    kind = "case_reopened"
    does = Does(after_sign_off=True, instead="reopened the case; sign it off again instead")
    reason: Text


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
    | StickAndPlaceSet
    | GraftsIssued
    | GraftsReturned
    | GraftsPlaced
    | PlacingMoved
    | GraftReseated
    | CareGiven
    | PromptPaused
    | SpotChecked
    | LaneOpened
    | LaneHandedOver
    | LaneClosed
    | HandedOver
    | BreakStarted
    | BreakEnded
    | TeamChanged
    | BreakPlanned
    | NoteAdded
    | KeysSetAside
    | ClockStepped
    | EntriesLost
    | RecordDiffered
    | MismatchExplained
    | LimitAnswered
    | EntryCorrected
    | DishCounted
    | FateGiven
    | FinalCountBegun
    | FinalCountGivenUp
    | FinalCounted
    | CaseSignedOff
    | CaseReopened
)

#: What somebody's hands did, no matter who entered it.
BY_HAND = (
    SitesMade | GraftsIssued | GraftsReturned | GraftsPlaced | GraftReseated | GraftsDiscarded | FateGiven
)

EVENT_KINDS: dict[str, type[Event]] = {each.kind: each for each in get_args(AnyEvent)}


def kinds_that(hold: Callable[[Does], object]) -> frozenset[type[Event]]:
    """The kinds of events whose row is as ``hold`` wants it."""
    return frozenset(each for each in EVENT_KINDS.values() if hold(each.does))


def hands_on(event: Event) -> bool:
    """Whether an entry is work and not paperwork; grafts placed beyond the plan are."""
    return event.does.hands_on or (isinstance(event, FateGiven) and event.into_zone is not None)


class Stamp(Struct, frozen=True, gc=False):
    """Who asked for an entry, where and when. ``tap`` numbers one station's taps from 1."""

    at_ms: int
    station: str
    tap: int
    who: str


class Entry(Struct, frozen=True, gc=False):
    """One line of the record. ``seq`` is the only order; clocks of two stations may disagree."""

    seq: int
    stamp: Stamp
    event: AnyEvent


def doer(entry: Entry) -> str:
    """Whose hands did what an entry says: the person it names, or else the one who entered it."""
    event = entry.event
    return (event.by if isinstance(event, BY_HAND) else None) or entry.stamp.who
