"""The lessons of practice: cutting, placing with lanes, the final count. Each has its case and its steps."""

from collections.abc import Callable
from typing import Final, Literal, NamedTuple, get_args

from msgspec import Struct

from orroom.case import commands as c
from orroom.case import events as e
from orroom.case.plan import CareRound, Harvest, Limits, Person, Plan, Size, Zone
from orroom.case.terms import Role

LessonName = Literal["cutting", "placing", "count"]
NAMES: Final[tuple[LessonName, ...]] = get_args(LessonName)

WET_MINUTES: Final = 15
#: The first wetting is due so long after practice begins: when its step comes, or soon after.
FIRST_WETTING_SECONDS: Final = 45


class Step(NamedTuple):
    """What to do next, and which entry does it. ``{…}`` is the key of that action."""

    says: str
    does: Callable[[e.Entry], bool]
    at_any_time: bool = False  #: an entry made before its turn does it too


class Lesson(Struct, frozen=True):
    """At which role, on which plan, what is there already, and the steps."""

    role: Role
    plan: Plan
    before: tuple[c.Command, ...]
    steps: tuple[Step, ...]


def _cuts(size: str, at_least: int = 1) -> Callable[[e.Entry], bool]:
    return lambda entry: (
        isinstance(entry.event, e.GraftsCut) and entry.event.size == size and entry.event.count >= at_least
    )


def _is(kind: type, **fields: object) -> Callable[[e.Entry], bool]:
    """An entry of this kind with these fields."""
    return lambda entry: (
        isinstance(entry.event, kind)
        and all(getattr(entry.event, name) == value for name, value in fields.items())
    )


def _plan(**changes: object) -> Plan:
    parts: dict[str, object] = {
        "case": "PRACTICE",
        "title": "to practise on; deleted afterwards",
        "sizes": (
            Size(key="1", label="1 hair", hairs=1),
            Size(key="2", label="2 hairs", hairs=2),
            Size(key="3", label="3 hairs", hairs=3),
            Size(key="M", label="multi", hairs=5),
        ),
        "zones": (
            Zone(key="FRONT", label="frontal", area_cm2=2, targets={"1": 10, "2": 20, "3": 20, "M": 10}),
        ),
        "harvests": (Harvest(key="A", label="strip", segments=3),),
        "staff": (Person(initials="EF", role="record"),),
        "cautions": ("Practice: nothing here is of a patient.",),
    }
    return Plan(**(parts | changes))  # type: ignore[arg-type]  # parts of a plan


CUTTING: Final = Lesson(
    role="cutting",
    plan=_plan(
        care=(CareRound(key="wet", label="wet the dishes", kind="wet", every_minutes=WET_MINUTES),),
    ),
    before=(c.StartHarvest(harvest="A", minutes_ago=WET_MINUTES - FIRST_WETTING_SECONDS / 60),),
    steps=(
        Step("tap {cut('2')}: a graft of two hairs is in its dish.", _cuts("2")),
        Step("tap {cut('1')}: a graft of one hair. One tap is one graft.", _cuts("1")),
        Step("tap {cut('3')}: a graft of three hairs.", _cuts("3")),
        Step("tap {cut('M')}: a multi-unit graft.", _cuts("M")),
        Step("make a mistake: tap {cut('3')}, though there was no graft.", _cuts("3")),
        Step("undo it: {undo}. It undoes your last tap here.", _is(e.EntryCorrected)),
        Step("catch up, six twos in one go: {several}, 6, Enter, then {cut('2')}.", _cuts("2", at_least=2)),
        Step("a spoilt one: {discard}, then why, then its size.", _is(e.GraftsDiscarded)),
        Step(
            "divide a three: {divide}, then {cut('3')}, then {cut('2')} and {cut('1')}.", _is(e.GraftsDivided)
        ),
        Step("wet the dishes: {answer} when the prompt below is due.", _is(e.CareGiven), at_any_time=True),
        Step("the segment on your board is done: {segment}.", _is(e.SegmentCut)),
    ),
)

PLACING: Final = Lesson(
    role="placing",
    plan=_plan(
        zones=(
            Zone(key="FRONT", label="frontal", area_cm2=4, targets={"1": 20, "2": 30, "3": 10}),
            Zone(key="CROWN", label="crown", area_cm2=4, targets={"2": 20, "3": 20}),
        ),
        limits=Limits(with_placers_seconds=FIRST_WETTING_SECONDS),
        staff=(Person(initials="GH", role="placing"), Person(initials="KL", role="placing")),
    ),
    before=(
        c.StartHarvest(harvest="A", minutes_ago=30),
        *(c.CutGrafts(harvest="A", size=size, count=40) for size in "123"),
    ),
    steps=(
        Step("open a lane: {team}, then “a placer joins”, then GH. It is lane a.", _is(e.LaneOpened)),
        Step(
            "hand GH ten twos: → to the column of 2, then 10 {issue}.",
            _is(e.GraftsIssued, size="2", count=10, lane="a"),
        ),
        Step(
            "GH has placed four of them in the frontal zone: 4 {place}.",
            _is(e.GraftsPlaced, zone="FRONT", size="2", count=4, lane="a"),
        ),
        Step("a second lane: {team}, “a placer joins”, then KL. It is lane d.", _is(e.LaneOpened, lane="d")),
        Step(
            "for KL, three ones, without the arrows: {lane('d')}, 3 {pick_size}, then 1 hair.",
            _is(e.GraftsPlaced, zone="FRONT", size="1", count=3, lane="d"),
        ),
        Step(
            "for GH, two twos in the crown: {lane('a')}, {zone}, the crown, 2 {pick_size}, 2 hairs.",
            _is(e.GraftsPlaced, zone="CROWN", size="2", count=2, lane="a"),
        ),
        Step(
            "those went into the frontal zone: {move}, the newest, then frontal.",
            _is(e.PlacingMoved, zone="FRONT"),
        ),
        Step("a two fell on the floor: → to 2 if need be, {discard}, then dropped.", _is(e.GraftsDiscarded)),
        Step("put two of GH's twos back into the dish: 2 {return_to_dish}.", _is(e.GraftsReturned, lane="a")),
        Step("wet GH's grafts: {answer} when the prompt below is due.", _is(e.CareGiven), at_any_time=True),
        Step("enter 5 {place}, which was wrong.", _is(e.GraftsPlaced, count=5)),
        Step("undo it: {undo}.", _is(e.EntryCorrected)),
    ),
)

#: What is in the dishes of the count; the tally has one three more.
THERE: Final = {"1": 6, "2": 8, "3": 4}
_NUMBERS: Final = ", ".join(map(str, THERE.values()))


def _counts() -> Callable[[e.Entry], bool]:
    """A whole count that is right, or a recount in which what was counted again is."""

    def does(entry: e.Entry) -> bool:
        event = entry.event
        return isinstance(event, e.FinalCounted) and all(
            each.found == (THERE.get(each.size, 0) if each.place == "dish" else 0) for each in event.groups
        )

    return does


COUNT: Final = Lesson(
    role="overview",
    plan=_plan(staff=(Person(initials="EF", role="record"), Person(initials="RS", role="surgeon"))),
    before=(
        c.StartHarvest(harvest="A", minutes_ago=240),
        *(c.CutGrafts(harvest="A", size=size, count=count + (size == "3")) for size, count in THERE.items()),
    ),
    steps=(
        Step("begin the final count: {final_count}, then who counts.", _is(e.FinalCountBegun)),
        Step(
            f"in the dishes are {_NUMBERS}: each number, Enter. z, y: 0 for the rest. Enter, then y.",
            _counts(),
        ),
        Step("the second person counts, blind to the first count: {final_count}.", _is(e.FinalCountBegun)),
        Step(f"the same again: {_NUMBERS}, each with Enter; z, y; Enter, then y.", _counts()),
        Step(
            "both found 4 threes, the tally has 5: a, then the cause, then a few words.",
            _is(e.DishCounted, found=4),
        ),
        Step("what becomes of what is left: g, then 1, then y for the others too.", _is(e.FateGiven)),
        Step(
            "sign off: o, y to each question, then two people's initials. In a real case: read them aloud.",
            _is(e.CaseSignedOff),
        ),
    ),
)

LESSONS: Final[dict[LessonName, Lesson]] = {"cutting": CUTTING, "placing": PLACING, "count": COUNT}
