"""Invented cases for the tests: a small plan, a record to talk to, and strategies for what people ask."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from types import UnionType
from typing import Annotated, Any, Literal, NamedTuple, Union, get_args, get_origin, get_type_hints

from hypothesis import strategies as st
from msgspec import Struct
from msgspec.structs import fields

from orroom.case import commands as c
from orroom.case import events as e
from orroom.case.decide import decide
from orroom.case.events import AnyEvent, Drawn, Entry, Stamp
from orroom.case.evolve import evolve
from orroom.case.final_count import waiting_by_group
from orroom.case.mismatches import mismatches, open_mismatches
from orroom.case.plan import CareRound, Donor, Harvest, Limits, Person, Plan, Size, Zone
from orroom.case.rules import Refusal
from orroom.case.state import CaseState, Tally
from orroom.case.terms import DISCARD_REASONS, PLACERS_CARE, ROLES, WORKS, Account, Fate, Place, Role
from orroom.case.traits import Trait, fields_with

#: One reason for whatever is open when a case is signed off.
UNCOUNTED = {"open_because": "not counted", "informed": "RS"}
#: 2026-01-05 07:30 UTC.
MORNING_MS = 1_767_598_200_000
MINUTE_MS = 60_000


@dataclass
class SetClock:
    """A clock that stands still until it is moved."""

    at_ms: int

    def now_ms(self) -> int:
        """The time it was last set to, UTC milliseconds."""
        return self.at_ms


def small_plan(**changes: Any) -> Plan:
    """Four sizes, three zones, two harvests, three care rounds: 180 grafts. ``changes`` replace parts."""
    parts: dict[str, Any] = {
        "case": "SMALL-1",
        "title": "a small case",
        "sizes": (
            Size(key="1", label="ones", hairs=1),
            Size(key="2", label="twos", hairs=2),
            Size(key="3", label="threes", hairs=3),
            Size(key="M", label="multi-unit", hairs=4.5),
        ),
        "zones": (
            Zone(
                key="LINE",
                label="hairline",
                area_cm2=4,
                neighbours=("FRONT",),
                targets={"1": 40},
                allowed=("1",),
            ),
            Zone(
                key="FRONT",
                label="frontal",
                area_cm2=10,
                neighbours=("LINE", "MID"),
                targets={"1": 10, "2": 50, "3": 20},
            ),
            Zone(
                key="MID",
                label="mid-scalp",
                area_cm2=12,
                neighbours=("FRONT",),
                targets={"2": 30, "3": 20, "M": 10},
            ),
        ),
        "harvests": (
            Harvest(key="A", label="strip", segments=4),
            Harvest(key="B", label="punches", segments=3),
        ),
        "donor": Donor(
            strip_length_cm=6, strip_width_cm=0.5, grafts_per_cm2=(65, 60), mix={"1": 0.3, "2": 0.5, "3": 0.2}
        ),
        "care": (
            CareRound(key="wet", label="wet the dishes", kind="wet", every_minutes=15),
            CareRound(key="renew", label="renew solution", kind="renew", every_minutes=60, grace_minutes=5),
            CareRound(
                key="cold", label="temperature", kind="temperature", every_minutes=30, low_c=2, high_c=8
            ),
        ),
        "limits": Limits(with_placers_seconds=120, with_placers_grace_seconds=30),
        "staff": (
            Person(initials="AB", role="cutting"),
            Person(initials="CD", role="placing"),
            Person(initials="EF", role="record"),
        ),
    }
    return Plan(**(parts | changes))


class Record:
    """A record in memory to talk to. Its clock goes on by a second with everything asked."""

    def __init__(self, state: CaseState | None = None, now_ms: int = MORNING_MS) -> None:
        self.state = state or CaseState()
        self.now_ms = now_ms
        self.taps: Counter[str] = Counter()

    def copy(self) -> Record:
        """Another record that goes on from here."""
        record = Record(self.state, self.now_ms)
        record.taps.update(self.taps)
        return record

    def stamp(self, who: str = "AB", station: str = "cutting-1") -> Stamp:
        """What the next entry of this person at this station would be stamped with."""
        return Stamp(at_ms=self.now_ms, station=station, tap=self.taps[station] + 1, who=who)

    def ask(
        self, command: c.Command, who: str = "AB", station: str = "cutting-1", at_ms: int | None = None
    ) -> Entry | Refusal:
        """The entry that ``command`` became, which the record now holds, or why it was refused."""
        self.now_ms = self.now_ms + 1000 if at_ms is None else at_ms
        stamp = self.stamp(who, station)
        event = decide(self.state, command, stamp)
        return event if isinstance(event, Refusal) else self.take(event, stamp)

    def take(self, event: AnyEvent, stamp: Stamp | None = None) -> Entry:
        """Records ``event`` whatever the rules say of it."""
        entry = Entry(self.state.seq + 1, stamp or self.stamp(), event)
        self.taps[entry.stamp.station] += 1
        self.state = evolve(self.state, entry)
        return entry

    def enter(self, command: c.Command, who: str = "AB", **asked: Any) -> Entry:
        """The entry that ``command`` became; the test fails if it is refused."""
        answer = self.ask(command, who, **asked)
        assert isinstance(answer, Entry), f"{command} was refused: {answer}"
        return answer

    def refusal(self, command: c.Command, who: str = "AB", **asked: Any) -> Refusal:
        """Why ``command`` is refused; the test fails if it is not."""
        answer = self.ask(command, who, **asked)
        assert isinstance(answer, Refusal), f"{command} was not refused: {answer}"
        return answer

    def wait(self, minutes: float) -> None:
        """Lets time pass."""
        self.now_ms += round(minutes * MINUTE_MS)

    @property
    def tally(self) -> Tally:
        """What the record adds up to."""
        return self.state.tally

    def held(self, account: Account, size: str | None = None, harvest: str | None = None) -> int:
        """Grafts in one account."""
        return self.tally.held(account, size, harvest)

    def mismatches(self) -> dict[str, int]:
        """How many grafts each mismatch concerns, by its key, explained or not."""
        return {each.key: each.amount for each in mismatches(self.state)}

    def open_mismatches(self) -> dict[str, int]:
        """The same for those that nobody has explained."""
        return {each.key: each.amount for each in open_mismatches(self.state)}


def opened_case(plan: Plan | None = None) -> Record:
    """A record that holds only its opening."""
    if plan is None:
        return _small_case().copy()
    record = Record()
    record.enter(c.OpenCase(plan=plan), "EF", station="overview-1")
    return record


@cache
def _small_case() -> Record:
    return opened_case(small_plan())


def case_under_way(plan: Plan | None = None) -> Record:
    """Harvest A left the body an hour ago; 30 ones, 40 twos, 20 threes and 5 multi-units wait in dishes."""
    return _case_under_way(plan) if plan is not None else _small_case_under_way().copy()


@cache
def _small_case_under_way() -> Record:
    return _case_under_way(small_plan())


def _case_under_way(plan: Plan) -> Record:
    record = opened_case(plan)
    record.enter(c.StartHarvest(harvest="A", minutes_ago=60))
    for size, count in (("1", 30), ("2", 40), ("3", 20), ("M", 5)):
        record.enter(c.CutGrafts(harvest="A", size=size, count=count))
    return record


def all_fated(record: Record, fate: Fate = "left over") -> None:
    """Everything that waits is given this fate."""
    for group, count in waiting_by_group(record.tally).items():
        size, harvest, place = group
        command = c.GiveFate(size=size, harvest=harvest, place=place, count=count, fate=fate)
        record.enter(command, "EF", station="overview-1")


def role_of(event: AnyEvent) -> Role | None:
    """A role whose people can take this kind of entry back, or ``None``."""
    return next(iter(event.does.undone_at), None)


def made(kind: type[AnyEvent], *, whole: bool) -> AnyEvent:
    """An event that makes sense in the small case; ``whole`` if it holds also what it may leave out."""
    hints = get_type_hints(kind, include_extras=True)
    numbers = iter(range(9, 0, -1))  # two numbers of one event differ
    drawn = {field.name for field in fields_with(kind, Trait.DRAWN)}
    held = {each.name for each in fields(kind) if each.required or whole} | drawn
    if "harvest" in held:  # grafts that are new were in no dish
        held -= drawn
    return kind(**{name: _made_of(hints[name], kind, numbers) for name in hints if name in held})


_OF_TRAIT: dict[Trait, object] = {
    Trait.COUNT: 2,
    Trait.ZONE: "MID",
    Trait.SIZE: "2",
    Trait.HARVEST: "A",
    Trait.LANE: "a",
    Trait.CARE: "wet",
    Trait.PERSON: "CD",
    Trait.TEXT: "a line",
    Trait.TIME: MORNING_MS,
}


def _made_of(hint: Any, kind: type[AnyEvent], numbers: Iterator[int]) -> Any:
    if get_origin(hint) in {Union, UnionType}:
        return _made_of(get_args(hint)[0], kind, numbers)
    if get_origin(hint) is Annotated:
        trait = hint.__metadata__[0]
        if trait is Trait.DRAWN:
            return (Drawn(harvest="A", place=kind.does.takes_from[0], count=2),)
        return _OF_TRAIT[trait]
    if get_origin(hint) is tuple:
        return (_made_of(get_args(hint)[0], kind, numbers),)
    if get_origin(hint) is Literal:
        return get_args(hint)[0]
    if hint is Plan:
        return small_plan()
    if isinstance(hint, type) and issubclass(hint, Struct):
        hints = get_type_hints(hint, include_extras=True)
        return hint(**{name: _made_of(hints[name], kind, numbers) for name in hint.__struct_fields__})
    return {str: "FRONT", int: next(numbers), float: 1.5, bool: True}[hint]


#: Of every kind an event that leaves out what it may, and one that does not.
EVERY_KIND = [made(kind, whole=whole) for kind in e.EVENT_KINDS.values() for whole in (False, True)]


# What people ask: mostly what makes sense, now and then what does not.

ODDITIES = 20  #: one value in so many makes no sense


def mostly(good: st.SearchStrategy[Any], odd: Sequence[Any]) -> st.SearchStrategy[Any]:
    return st.integers(1, ODDITIES).flatmap(lambda roll: st.sampled_from(odd) if roll == ODDITIES else good)


SIZES = mostly(st.sampled_from(("1", "2", "3", "M")), ("4", "", "two"))
HARVESTS = mostly(st.sampled_from(("A", "B")), ("C", ""))
ANY_HARVEST = st.none() | HARVESTS
LANES = mostly(st.sampled_from(("a", "d")), ("g", "", "A"))
ANY_LANE = st.none() | LANES
ZONES = mostly(st.sampled_from(("LINE", "FRONT", "MID")), ("VERTEX", "line"))
COUNTS = mostly(st.integers(1, 40), (0, -1, 10_000, 10_001, -(10**12)))
MINUTES = mostly(st.floats(0, 240), (float("nan"), float("inf"), float("-inf"), -1.0, 1e300))
CARE = mostly(st.sampled_from(("wet", "renew", "cold", PLACERS_CARE)), ("shake",))
PEOPLE = mostly(st.sampled_from(("AB", "CD", "EF")), ("", "ab", "ABCDE", "AB\n"))
TEXTS = mostly(st.text("abc é", min_size=1, max_size=9), (" ", "", "x" * 201, "a\u202eb", "a\nb"))
LENGTHS = mostly(st.none() | st.floats(1, 20), (0.0, -1.0, float("nan"), float("inf"), 401.0))
READINGS = mostly(st.none() | st.floats(1, 9), (float("nan"), 99.0, float("-inf")))
PLANS = st.sampled_from(
    (
        small_plan(),
        small_plan(harvests=(Harvest(key="B", label="punches"),)),
        small_plan(zones=(Zone(key="MID", label="mid-scalp", area_cm2=12, targets={"2": 5}),)),
        small_plan(sizes=(Size(key="2", label="twos", hairs=2),)),
    )
)
PLACES = st.sampled_from(get_args(Place))
GROUPS = st.lists(
    st.builds(e.CountedGroup, size=SIZES, harvest=HARVESTS, place=PLACES, found=COUNTS), max_size=3
).map(tuple) | st.just(
    tuple(
        e.CountedGroup(size=size, harvest=harvest, place=place, found=3)
        for harvest in ("A", "B")
        for place in get_args(Place)
        for size in ("1", "2", "3", "M")
    )
)
WORK = mostly(st.sampled_from(WORKS), ("sorting",))
MISMATCHES = st.one_of(
    st.builds("over:{}:{}".format, ZONES, SIZES),
    st.builds("short:{}:{}:{}".format, PLACES, SIZES, HARVESTS),
    st.builds("counted:{}:{}".format, SIZES, HARVESTS),
    st.builds("harvest:{}".format, HARVESTS),
)
ENTRY_NUMBERS = mostly(st.integers(1, 20), (0, -1, 10**9))


_FAULTS = [
    None if found is None else tuple(e.FaultFound(fault=fault, count=count) for fault, count in found)
    for found in (
        None,
        [("crushed", 3)],
        [("too deep", 1), ("bent", 2)],
        [("too deep", 4)],
        [("too deep", 4), ("bent", -1)],
        [("bent", 1), ("bent", 2)],
        [("", 3)],
        [],
    )
]


def _counting() -> tuple[st.SearchStrategy[c.Command], ...]:
    into = mostly(st.sampled_from((("1",), ("1", "1"), ("1", "2"), ("2",))), ((), ("4",), ("3", "3", "M")))
    reasons = mostly(st.sampled_from(DISCARD_REASONS), ("lost",))
    batch = {"size": SIZES, "count": COUNTS, "harvest": ANY_HARVEST}
    by_hand = {**batch, "lane": ANY_LANE}
    return (
        st.builds(c.CutGrafts, harvest=HARVESTS, size=SIZES, count=COUNTS),
        st.builds(c.DivideGrafts, into=into, **batch),
        st.builds(c.DiscardGrafts, reason=reasons, **by_hand),
        st.builds(c.IssueGrafts, **by_hand),
        st.builds(c.ReturnGrafts, **by_hand),
        st.builds(c.PlaceGrafts, zone=ZONES, **by_hand),
        st.builds(c.MakeSites, zone=ZONES, count=COUNTS, by=st.none() | PEOPLE),
        st.builds(c.ReseatGraft, zone=ZONES, count=COUNTS, lane=ANY_LANE),
        st.builds(c.CountDish, size=SIZES, harvest=HARVESTS, found=COUNTS, place=PLACES),
        st.builds(c.TakeBack, role=st.sampled_from(ROLES)),
        st.builds(c.CorrectEntry, entry=ENTRY_NUMBERS, reason=TEXTS),
        st.builds(c.MovePlacing, entry=ENTRY_NUMBERS, zone=ZONES),
    )


def _other() -> tuple[st.SearchStrategy[c.Command], ...]:
    faults = st.integers(-1, 5)
    return (
        st.builds(c.OpenCase, plan=PLANS),
        st.builds(c.RevisePlan, plan=PLANS, reason=TEXTS),
        st.builds(c.JoinStation, role=st.sampled_from(ROLES)),
        st.builds(c.LeaveStation),
        st.builds(c.StartHarvest, harvest=HARVESTS, minutes_ago=MINUTES),
        st.builds(c.EndHarvest, harvest=HARVESTS),
        st.builds(c.FinishSegment, harvest=HARVESTS, length_mm=LENGTHS),
        st.builds(c.GiveCare, care=CARE, temperature_c=READINGS),
        st.builds(c.GiveCare, care=st.just(PLACERS_CARE), lane=LANES),
        st.builds(c.OpenLane, lane=LANES, by=PEOPLE),
        st.builds(c.HandOverLane, lane=LANES, by=PEOPLE),
        st.builds(c.CloseLane, lane=LANES),
        st.builds(c.PausePrompt, care=CARE, minutes=MINUTES),
        st.builds(c.CheckSpot, looked_at=COUNTS, faulty=faults, fault=st.none() | TEXTS, zone=ZONES),
        st.builds(
            c.CheckSpot,
            subject=st.just("cutting"),
            looked_at=st.integers(1, 20),
            faulty=st.just(0),
            follicles=mostly(st.integers(20, 60), (None, 0)),
            transected=mostly(st.integers(0, 20), (None, -1, 61)),
        ),
        st.builds(
            c.CheckSpot,
            subject=st.sampled_from(("cutting", "placing")),
            looked_at=st.integers(3, 20),
            faulty=st.just(3),
            whose=st.none() | PEOPLE,
            faults=mostly(st.sampled_from(_FAULTS[:3]), _FAULTS[3:]),
        ),
        st.builds(c.HandOver, left=PEOPLE),
        st.builds(c.StartBreak),
        st.builds(c.EndBreak),
        st.builds(c.ChangeTeam, work=WORK, people=mostly(st.integers(0, 6), (-1, 21))),
        st.builds(c.PlanBreak, in_minutes=MINUTES, minutes=MINUTES, work=st.none() | WORK),
        st.builds(c.AddNote, text=TEXTS),
        st.builds(c.ExplainMismatch, mismatch=MISMATCHES, text=TEXTS),
        st.builds(c.BeginCount),
        st.builds(c.GiveUpCount, begun=st.none() | ENTRY_NUMBERS),
        st.builds(c.CountAll, groups=GROUPS, since=st.integers(0, 30), recount_of=st.none() | ENTRY_NUMBERS),
        st.builds(c.SignOff, second=PEOPLE, open_because=st.none() | TEXTS, informed=st.none() | TEXTS),
        st.builds(c.ReopenCase, reason=TEXTS),
        st.builds(
            c.GiveFate,
            size=SIZES,
            harvest=HARVESTS,
            place=PLACES,
            count=COUNTS,
            fate=st.sampled_from(get_args(Fate)),
            reason=st.none() | TEXTS,
            lane=ANY_LANE,
        ),
        st.builds(
            c.GiveFate,
            size=SIZES,
            harvest=HARVESTS,
            place=PLACES,
            count=COUNTS,
            fate=mostly(st.just("placed extra"), ("kept",)),
            into_zone=ZONES,
            lane=ANY_LANE,
            by=st.none() | PEOPLE,
        ),
    )


COUNTING, OTHER = _counting(), _other()


def commands() -> st.SearchStrategy[c.Command]:
    """Any command, those that move counts more often."""
    counting = st.one_of(COUNTING)
    return st.one_of(counting, counting, st.one_of(OTHER))


class Asking(NamedTuple):
    """A command, the person and station it comes from, and how long after the one before."""

    command: c.Command
    who: str
    station: str
    seconds: float


def askings() -> st.SearchStrategy[Asking]:
    """Commands from three stations, some seconds apart; clocks of stations may run backwards."""
    stations = st.sampled_from(("cutting-1", "placing-1", "overview-1"))
    return st.builds(Asking, commands(), PEOPLE, stations, st.sampled_from((0.2, 1, 30, 900, -2)))


def told(record: Record, asked: Sequence[Asking]) -> Record:
    """``record`` after everything asked of it."""
    for command, who, station, seconds in asked:
        record.ask(command, who, station, at_ms=record.now_ms + round(seconds * 1000))
    return record


def up_to(most: int, of: st.SearchStrategy[Any]) -> st.SearchStrategy[list[Any]]:
    """Lists of every length up to ``most``, long ones as often as short ones."""
    return st.integers(0, most).flatmap(lambda length: st.lists(of, min_size=length, max_size=length))


def records(most: int = 25) -> st.SearchStrategy[Record]:
    """Opened cases, just opened or under way, in every state that up to ``most`` commands can reach."""
    begun = st.sampled_from((opened_case, case_under_way))
    return st.builds(lambda begin, asked: told(begin(), asked), begun, up_to(most, askings()))


# What a record could hold though no rule would let it in.

_DRAWN = st.builds(Drawn, harvest=HARVESTS, place=PLACES, count=st.integers(-9, 30))
_FIELDS: dict[str, st.SearchStrategy[Any]] = {
    "plan": PLANS,
    "harvest": HARVESTS,
    "size": SIZES,
    "zone": ZONES,
    "from_zone": ZONES,
    "into": st.lists(SIZES, max_size=3).map(tuple),
    "count": st.integers(-9, 30),
    "drawn": st.lists(_DRAWN, max_size=3).map(tuple),
    "entry": st.integers(-1, 25),
    "place": PLACES,
    "care": CARE,
    "groups": GROUPS,
    "minutes": st.floats(1, 240),
    "since": st.integers(0, 30),
    "begun": st.integers(-1, 25),
    "recount_of": st.none() | st.integers(-1, 25),
}


def wild_entries(most: int = 25) -> st.SearchStrategy[list[Entry]]:
    """Entries in sequence whose events are of every kind and obey no rule."""
    kinds = [
        st.builds(kind, **{each.name: _FIELDS[each.name] for each in fields(kind) if each.name in _FIELDS})
        for kind in get_args(AnyEvent)
    ]
    stamps = st.builds(Stamp, at_ms=st.integers(0, 2**42), station=st.just("x"), tap=st.just(1), who=PEOPLE)
    lines = up_to(most, st.tuples(stamps, st.one_of(kinds)))
    return lines.map(lambda each: [Entry(seq, stamp, event) for seq, (stamp, event) in enumerate(each, 1)])
