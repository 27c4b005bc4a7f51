"""Practice: a small case to throw away, and a lesson at its station, step by step."""

from collections.abc import Callable, Iterable
from pathlib import Path

from msgspec import Struct

from orroom.case import commands as c
from orroom.case import events as e
from orroom.case.state import CaseState
from orroom.clock import utc_offset_minutes
from orroom.demo.lessons import Lesson
from orroom.figures.counts import by_size, total
from orroom.figures.wording import several
from orroom.record.case_file import CaseFile
from orroom.recording import record_once
from orroom.words.entries import entry_words

#: Who made the practice case ready.
DESK = "EF"


class Progress(Struct, frozen=True):
    """How many steps are done, and the last entry if it was not the one that the lesson asked for."""

    done: int
    stray: e.Entry | None = None


def progress(lesson: Lesson, entries: Iterable[e.Entry]) -> Progress:
    """How far the lesson is: each step is done by the first entry of its kind after the step before."""
    steps = lesson.steps
    done, stray, early = 0, None, set[int]()
    for entry in entries:
        ahead = {n for n, step in enumerate(steps) if n > done and step.at_any_time and step.does(entry)}
        if done < len(steps) and steps[done].does(entry):
            done, stray = done + 1, None
        elif ahead:
            early |= ahead
        else:
            stray = entry
        while done in early:
            done += 1
    return Progress(done, stray)


def lesson_line(lesson: Lesson, state: CaseState, key_of: Callable[[str], str]) -> str:
    """What the lesson says now: the step with a mark for each one done, and a kind word on another tap."""
    so_far = progress(lesson, _practised(state))
    marks = "●" * so_far.done + "○" * (len(lesson.steps) - so_far.done)
    leave = key_of("leave")
    if so_far.done == len(lesson.steps):
        return f"Practice {marks} all done. {leave}, then y leaves; this case is deleted."
    says = lesson.steps[so_far.done].says
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
        case e.GraftsPlaced() | e.GraftsIssued():
            words = entry_words(stray.event, state.plan)
            return f"That was {words}: it counts too ({key_of('undo')} undoes it)."
        case e.EntryCorrected():
            return "That undid one: fine."
        case e.FinalCounted():
            key = key_of("final_count")
            return f"Other numbers were counted: {key}, then e stops that count, or r counts again."
    return "That is entered too, and does no harm here."


def _practised(state: CaseState) -> list[e.Entry]:
    """What was entered since somebody sat down."""
    seated = (each.seq for each in state.log if isinstance(each.event, e.StationJoined))
    began = next(seated, state.seq)
    not_practice = (e.StationJoined, e.StationLeft)
    return [each for each in state.log if each.seq > began and not isinstance(each.event, not_practice)]


def start_practice(path: Path, lesson: Lesson) -> CaseFile:
    """A new practice case for a lesson. Raises ``CaseFileError`` if it fails."""
    case_file = CaseFile.create(path)
    opened = c.OpenCase(plan=lesson.plan, utc_offset_minutes=utc_offset_minutes())
    for command in (opened, *lesson.before):
        record_once(case_file, command, DESK)
    return case_file


def counted_words(lesson: Lesson, state: CaseState) -> str:
    """How far somebody came, what was counted while cutting, and that the case is deleted."""
    done = progress(lesson, _practised(state)).done
    said = f"Practice: {done} of {len(lesson.steps)} steps."
    if lesson.role == "cutting":
        counts = by_size(state)
        whole = total(counts)
        sizes = ", ".join(
            f"{each.cut_in_all} of {state.plan.size_by_key[size].label}"
            for size, each in counts.items()
            if each.cut_in_all
        )
        said += (
            f" Counted: {several(whole.cut_in_all, 'graft')}{f' ({sizes})' if sizes else ''}, "
            f"{whole.discarded} of them spoilt; {several(len(state.corrected_by), 'tap')} undone."
        )
    return f"{said} The practice case is deleted."
