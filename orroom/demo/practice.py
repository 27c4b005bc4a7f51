"""Practice: a small case to throw away, and a lesson of eleven steps at its cutting station."""

from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Final, NamedTuple

from msgspec import Struct

from orroom.case import events as e
from orroom.case.plan import CareRound, Harvest, Person, Plan, Size, Zone
from orroom.case.state import CaseState
from orroom.clock import WallClock, utc_offset_minutes
from orroom.figures.counts import by_size, total
from orroom.figures.wording import several
from orroom.record.case_file import CaseFile
from orroom.recording import record_all

WET_MINUTES: Final = 15
#: The first wetting is due so long after practice begins: when its step comes, or soon after.
FIRST_WETTING_SECONDS: Final = 45

PLAN: Final = Plan(
    case="PRACTICE",
    title="to practise on; deleted afterwards",
    sizes=(
        Size(key="1", label="1 hair", hairs=1),
        Size(key="2", label="2 hairs", hairs=2),
        Size(key="3", label="3 hairs", hairs=3),
        Size(key="M", label="multi", hairs=5),
    ),
    zones=(Zone(key="FRONT", label="frontal", area_cm2=2, targets={"1": 10, "2": 20, "3": 20, "M": 10}),),
    harvests=(Harvest(key="A", label="strip", segments=3),),
    care=(CareRound(key="wet", label="wet the grafts", kind="wet", every_minutes=WET_MINUTES),),
    staff=(Person(initials="EF", role="record"),),
    cautions=("Practice: nothing here is of a patient.",),
)


class Step(NamedTuple):
    """What to tap next, and which entry does it. ``{…}`` is the key of that action."""

    says: str
    does: Callable[[e.Entry], bool]
    at_any_time: bool = False  #: an entry made before its turn does it too


def _cuts(size: str, at_least: int = 1) -> Callable[[e.Entry], bool]:
    return lambda entry: (
        isinstance(entry.event, e.GraftsCut) and entry.event.size == size and entry.event.count >= at_least
    )


def _is(kind: type) -> Callable[[e.Entry], bool]:
    return lambda entry: isinstance(entry.event, kind)


LESSON: Final = (
    Step("tap {cut('2')}: a graft of two hairs is in its dish.", _cuts("2")),
    Step("tap {cut('1')}: a graft of one hair. One tap is one graft.", _cuts("1")),
    Step("tap {cut('3')}: a graft of three hairs.", _cuts("3")),
    Step("tap {cut('M')}: a multi-unit graft.", _cuts("M")),
    Step("make a mistake: tap {cut('3')}, though there was no graft.", _cuts("3")),
    Step("undo it: {undo}. It undoes your last tap here.", _is(e.EntryCorrected)),
    Step("catch up, six twos in one go: {several}, 6, Enter, then {cut('2')}.", _cuts("2", at_least=2)),
    Step("a spoilt one: {discard}, then why, then its size.", _is(e.GraftsDiscarded)),
    Step("divide a three: {divide}, then {cut('3')}, then {cut('2')} and {cut('1')}.", _is(e.GraftsDivided)),
    Step("wet the grafts: {answer} when the prompt below is due.", _is(e.CareGiven), at_any_time=True),
    Step("the segment on your board is done: {segment}.", _is(e.SegmentCut)),
)


class Progress(Struct, frozen=True):
    """How many steps are done, and the last entry if it was not the one that the lesson asked for."""

    done: int
    stray: e.Entry | None = None


def progress(entries: Iterable[e.Entry]) -> Progress:
    """How far the lesson is: each step is done by the first entry of its kind after the step before."""
    done, stray, early = 0, None, set[int]()
    for entry in entries:
        ahead = {n for n, step in enumerate(LESSON) if n > done and step.at_any_time and step.does(entry)}
        if done < len(LESSON) and LESSON[done].does(entry):
            done, stray = done + 1, None
        elif ahead:
            early |= ahead
        else:
            stray = entry
        while done in early:
            done += 1
    return Progress(done, stray)


def lesson_line(state: CaseState, key_of: Callable[[str], str]) -> str:
    """What the lesson says now: the step with a mark for each one done, and a kind word on another tap."""
    so_far = progress(_practised(state))
    marks = "●" * so_far.done + "○" * (len(LESSON) - so_far.done)
    leave = key_of("leave")
    if so_far.done == len(LESSON):
        return f"Practice {marks} all done. {leave}, then y leaves; this case is deleted."
    says = LESSON[so_far.done].says
    for action in [part.partition("}")[0] for part in says.split("{")[1:]]:
        says = says.replace(f"{{{action}}}", key_of(action))
    other = "" if so_far.stray is None else f"{_about(so_far.stray, state, key_of)} "
    return f"Practice {marks} {other}{'Now ' if other else ''}{says if other else says[0].upper() + says[1:]}"


def _about(stray: e.Entry, state: CaseState, key_of: Callable[[str], str]) -> str:
    """A tap that was not asked for, named without blame."""
    match stray.event:
        case e.GraftsCut(size=size, count=count):
            label = state.plan.size_by_key[size].label
            number = "one" if count == 1 else f"{count}"
            return f"That was {number} of {label}: it counts too ({key_of('undo')} undoes it)."
        case e.EntryCorrected():
            return "That undid one: fine."
    return "That is entered too, and does no harm here."


def _practised(state: CaseState) -> list[e.Entry]:
    """What was entered since practice began."""
    before = (e.CaseOpened, e.HarvestStarted, e.StationJoined, e.StationLeft)
    return [entry for entry in state.log if not isinstance(entry.event, before)]


def start_practice(path: Path) -> CaseFile:
    """A new practice case whose harvest began some minutes ago. Raises ``CaseFileError`` if it fails."""
    now_ms = WallClock().now_ms()
    begun_ms = now_ms - WET_MINUTES * 60_000 + FIRST_WETTING_SECONDS * 1000
    opened = e.CaseOpened(plan=PLAN, utc_offset_minutes=utc_offset_minutes())
    entries = [
        e.Entry(1, e.Stamp(begun_ms, "desk", 1, "EF"), opened),
        e.Entry(2, e.Stamp(begun_ms, "desk", 2, "EF"), e.HarvestStarted(harvest="A", started_at_ms=begun_ms)),
    ]
    case_file = CaseFile.create(path)
    record_all(case_file, entries, str(path))
    return case_file


def counted_words(state: CaseState) -> str:
    """What was counted in practice, and that it is thrown away."""
    counts = by_size(state)
    whole = total(counts)
    sizes = ", ".join(
        f"{each.cut_in_all} of {state.plan.size_by_key[size].label}"
        for size, each in counts.items()
        if each.cut_in_all
    )
    steps = progress(_practised(state)).done
    return (
        f"Practice: {steps} of {len(LESSON)} steps. Counted: {several(whole.cut_in_all, 'graft')}"
        f"{f' ({sizes})' if sizes else ''}, {whole.discarded} of them spoilt; "
        f"{several(len(state.corrected_by), 'tap')} undone. The practice case is deleted."
    )
