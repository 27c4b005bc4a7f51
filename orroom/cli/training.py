"""Verbs to learn with: practice with a lesson, a drill with a score. Their cases are deleted afterwards."""

from __future__ import annotations

import os
import shutil
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Final, cast

import click

from orroom.case.terms import Theme
from orroom.cli.common import PATH, REPLACE, write
from orroom.cli.people import WHO
from orroom.cli.stations import YOU, theme_option
from orroom.drill.sheet import KINDS, LARGEST_SEED, Kind, Sheet
from orroom.errors import OrroomError

if TYPE_CHECKING:
    from orroom.case.state import CaseState
    from orroom.demo.lessons import LessonName
    from orroom.drill.own_file import OwnFile, UnderWay
    from orroom.record.case_file import CaseFile

#: How the folder of a drill's case begins, and what its case is called: nothing else is ever deleted.
FOLDER, CASE = "orroom-drill-", "drill.orroom"
#: The exit code of a station that was left by a hand: any other drill can be resumed.
LEFT: Final = 0
#: Columns next to a page of the start screen.
BESIDE: Final = 3


@click.command()
@click.argument("lesson", type=click.Choice(KINDS), default=KINDS[0])
@click.option("--who", default=YOU, show_default=True, help="Your own initials while practising.")
@theme_option
def practice(lesson: LessonName, who: str, theme: Theme | None) -> None:
    """Learn the keys of a station in minutes, step by step.

    LESSON is cutting (if left out), placing or count. The practice case is deleted afterwards.
    """
    code, counted = practised(lesson, who, theme)
    click.echo(counted)
    sys.exit(code)


def practised(name: LessonName, who: str, theme: Theme | None) -> tuple[int, str]:
    """Practise until the station is left; answers the exit code, and how far that was."""
    from orroom.demo.lessons import LESSONS
    from orroom.demo.practice import counted_words, lesson_line, start_practice
    from orroom.desk import Desk
    from orroom.screens.stations.sitting import need_a_terminal, paint_at_once, sit_at

    need_a_terminal()
    paint_at_once()
    from orroom.screens.stations.shared import Lesson

    taught = LESSONS[name]
    with tempfile.TemporaryDirectory(prefix="orroom-practice-") as folder:
        desk = Desk(start_practice(Path(folder) / "practice.orroom", taught), taught.role, who)
        lesson = Lesson(partial(lesson_line, taught), "End practice? This case is deleted.")
        code = sit_at(desk, theme, lesson)
        return code, counted_words(taught, desk.state)


@click.command()
@click.argument("kind", type=click.Choice(KINDS), required=False)
@click.option(
    "--level",
    type=click.IntRange(1, 3),
    default=1,
    show_default=True,
    help="How much goes wrong on the sheet.",
)
@click.option(
    "--seed", type=click.IntRange(1, LARGEST_SEED), help="Number of the sheet.  [your next one of the level]"
)
@click.option("--who", type=WHO, help="Your initials: your curve is kept under them.")
@click.option(
    "--sheet", "only_sheet", is_flag=True, help="Print the sheet, to read aloud or to have it read."
)
@click.option("--output", type=PATH, help="Write the sheet to this file.")
@REPLACE
@click.option("--show", is_flag=True, help="Show your curve.")
@click.option("--resume", is_flag=True, help="Go on with a drill that was cut off.")
@click.option("--forget", is_flag=True, help="Delete your file with all of your drills.")
@click.option("--file", "path", type=PATH, help="Another file of your own, such as on your own stick.")
@theme_option
def drill(
    kind: Kind | None,
    level: int,
    seed: int | None,
    who: str | None,
    output: Path | None,
    path: Path | None,
    theme: Theme | None,
    **flags: bool,
) -> None:
    """Enter a sheet at a real station, and get a score.

    KIND is cutting, placing or count. The sheet is read aloud, by a colleague or from paper; the same level
    and seed is the same sheet on every machine. Level 1 has dropped grafts and undoing in it, level 2 also
    prompts, held keys and corrections, level 3 also a change of reader. What you enter goes into a case of
    its own, which is deleted. The figures of your score go into your own file, drills/INITIALS.json next to
    the settings, and nowhere else.
    """
    wanted = [name for name in ("only_sheet", "show", "resume", "forget") if flags[name]]
    if len(wanted) > 1 or (output is not None and wanted != ["only_sheet"]):
        raise click.UsageError("Only one of --sheet, --show, --resume, --forget; --output goes with --sheet.")
    if kind is None and wanted not in (["show"], ["resume"], ["forget"]):
        raise click.UsageError(f"Which drill? {', '.join(KINDS)}; for example orroom drill cutting --who AB.")
    if wanted == ["only_sheet"] and kind is not None:
        sheet = chosen_sheet(kind, level, seed, who, path)
        write(sheet_page(sheet), output, replace=flags["replace"])
        return
    if who is None:
        raise click.UsageError("Whose? Give --who and initials, for example --who AB.")
    if wanted == ["show"]:
        click.echo(curve(who, kind, path))
    elif wanted == ["forget"]:
        click.echo(forgotten(who, path))
    elif wanted == ["resume"]:
        code, said = resumed(who, path, theme)
        click.echo(said)
        sys.exit(code)
    elif kind is not None:
        sheet = chosen_sheet(kind, level, seed, who, path)
        same = f"orroom drill {sheet.kind} --level {sheet.level} --seed {sheet.seed}"
        click.echo(f"Have sheet {sheet.seed} read aloud, or next to you. It is printed by:\n{same} --sheet")
        click.pause("Enter begins.")
        code, said = drilled(sheet, who, path, theme)
        click.echo(said)
        sys.exit(code)


def chosen_sheet(kind: Kind, level: int, seed: int | None, who: str | None, path: Path | None) -> Sheet:
    """The sheet of a seed, or the first that a trainee has not done yet."""
    from orroom.drill.making import sheet_of
    from orroom.drill.own_file import OwnFile, own_path, read_own

    if seed is None:
        own = OwnFile() if who is None else read_own(path or own_path(who))
        seed = own.next_sheet(kind, level)
    return sheet_of(kind, level, seed)


def named_sheet(named: str) -> Sheet:
    """The sheet of a kind, a level and a number, as the start screen names it: ``cutting 2 417``."""
    from orroom.drill.making import sheet_of

    kind, level, number = named.split(" ", 2)
    if not (number.isascii() and number.isdigit() and 1 <= int(number) <= LARGEST_SEED):
        raise OrroomError(f"There is no sheet “{number}”.", f"Type a number from 1 to {LARGEST_SEED}.")
    return sheet_of(cast("Kind", kind), int(level), int(number))


def chosen_drill(named: str, who: str, theme: Theme | None) -> tuple[int, str]:
    """Do a drill as the start screen names it, or go on with the one that was cut off."""
    from orroom.screens.start.learning_menus import RESUME

    return resumed(who, None, theme) if named == RESUME else drilled(named_sheet(named), who, None, theme)


def sheet_page(sheet: Sheet) -> str:
    """A sheet to print or to read aloud."""
    from orroom.drill.words import sheet_text

    return sheet_text(sheet)


def curve(who: str, kind: Kind | None, path: Path | None) -> str:
    """A trainee's curve as wide as the terminal has room for, and where it is kept."""
    from orroom.drill.curve import WIDTH, curve_text
    from orroom.drill.own_file import own_path, read_own

    own = own_path(who) if path is None else path
    width = shutil.get_terminal_size().columns - BESIDE
    text = curve_text(who, read_own(own).drills, kind, min(width, WIDTH))
    return f"{text}\n\nKept in {own} alone.\nTo delete it: orroom drill --who {who} --forget"


def forgotten(who: str, path: Path | None) -> str:
    """Delete a trainee's file."""
    from orroom.drill.own_file import delete_own, own_path
    from orroom.figures.wording import several

    own = own_path(who) if path is None else path
    return f"{own} is deleted, with {several(delete_own(own), 'drill')}."


def drilled(sheet: Sheet, who: str, path: Path | None, theme: Theme | None) -> tuple[int, str]:
    """Have a sheet entered at its station until that is left; answers the exit code, and the score."""
    from msgspec.structs import replace

    from orroom.drill.case import start_drill
    from orroom.drill.own_file import UnderWay, own_path, read_own, write_own
    from orroom.screens.stations.sitting import need_a_terminal

    need_a_terminal()
    path = own_path(who) if path is None else path
    own, before = _settled(read_own(path))
    case = Path(tempfile.mkdtemp(prefix=FOLDER)) / CASE
    try:
        case_file = start_drill(case, sheet)
        under_way = UnderWay(kind=sheet.kind, level=sheet.level, seed=sheet.seed, case=str(case))
        write_own(path, replace(own, under_way=under_way))
    except BaseException:
        _delete(case)
        raise
    with _held(case):
        code, said = _sat(case_file, sheet, who, path, theme)
    return code, f"{before}{said}"


def resumed(who: str, path: Path | None, theme: Theme | None) -> tuple[int, str]:
    """Go on with the drill that was cut off; answers the exit code, and the score."""
    from orroom.drill.making import sheet_of
    from orroom.drill.own_file import own_path, read_own
    from orroom.record.case_file import CaseFile
    from orroom.screens.stations.sitting import need_a_terminal

    need_a_terminal()
    path = own_path(who) if path is None else path
    found = read_own(path).under_way
    if found is None:
        raise OrroomError(f"No drill of {who} was cut off.", "orroom drill KIND --who begins one.")
    sheet = sheet_of(found.kind, found.level, found.seed)
    if _state(found) is None:
        raise OrroomError(
            f"The case of that drill, {found.case}, is gone.",
            f"To begin it again: orroom drill {found.kind} --level {found.level} --seed {found.seed}.",
        )
    with _held(Path(found.case)):
        return _sat(CaseFile.open(Path(found.case)), sheet, who, path, theme)


def _sat(case_file: CaseFile, sheet: Sheet, who: str, path: Path, theme: Theme | None) -> tuple[int, str]:
    """Sit at the station; once it is left by a hand, the score is kept and the case deleted."""
    from orroom.desk import Desk
    from orroom.drill.case import ROLES
    from orroom.drill.own_file import read_own, write_own
    from orroom.drill.score import score
    from orroom.drill.words import score_text, station_line
    from orroom.figures.wording import day
    from orroom.screens.stations.sitting import paint_at_once, sit_at

    paint_at_once()
    from orroom.screens.stations.shared import Lesson

    desk = Desk(case_file, ROLES[sheet.kind], who)
    lesson = Lesson(
        lambda _, key_of: station_line(sheet, key_of("leave")),
        "End the drill? It is scored; its case is deleted.",
    )
    code = sit_at(desk, theme, lesson)
    if code != LEFT:
        return code, f"The drill was cut off: orroom drill --who {who} --resume goes on."
    found, state = score(sheet, desk.state), desk.state
    text = score_text(found, sheet)
    on = day(state.log[0].stamp.at_ms, state.tally.utc_offset_minutes)
    try:
        write_own(path, read_own(path).with_score(found, on))
    except OrroomError as problem:
        raise OrroomError(f"{text}\n\nThis score was not kept. {problem.message}", problem.hint) from None
    _delete(case_file.path)
    return code, f"{text}\n\nKept in {path}.\nYour curve: orroom drill {sheet.kind} --who {who} --show"


def _settled(own: OwnFile) -> tuple[OwnFile, str]:
    """The file without a drill under way: one that was cut off is kept as far as it went, and said."""
    from msgspec.structs import replace

    from orroom.drill.making import sheet_of
    from orroom.drill.score import score
    from orroom.figures.wording import day

    if (found := own.under_way) is None:
        return own, ""
    named = f"The drill {found.kind} {found.level}, sheet {found.seed}, was cut off"
    state = _state(found)
    if state is None:
        return replace(own, under_way=None), f"{named} and its case is gone: it has no score.\n\n"
    with _held(Path(found.case)):
        partly = score(sheet_of(found.kind, found.level, found.seed), state)
        _delete(Path(found.case))
    on = day(state.log[0].stamp.at_ms, state.tally.utc_offset_minutes)
    after = "" if partly.left is None else f" after line {partly.left}"
    return own.with_score(partly, on), f"{named}{after}: kept as far as it went.\n\n"


@contextmanager
def _held(case: Path) -> Iterator[None]:
    """Keep a drill's case to this process. Raises ``OrroomError`` while it is another's."""
    import fcntl  # where there is none, no station opens

    folder = os.open(case.parent, os.O_RDONLY)
    try:
        try:
            fcntl.flock(folder, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            raise OrroomError(
                "A drill of these initials is going on at another terminal.", "End it there first, with F10."
            ) from None
        yield
    finally:
        os.close(folder)


def _state(found: UnderWay) -> CaseState | None:
    """What is in the case of a drill that was cut off; ``None`` where it is gone, or not a drill's."""
    from orroom.cli.common import state_of
    from orroom.drill.case import CODE

    case = Path(found.case)
    if not _is_drill(case) or not case.exists():
        return None
    state = state_of(case)
    return state if state.plan.case == CODE else None


def _is_drill(case: Path) -> bool:
    return case.name == CASE and case.parent.name.startswith(FOLDER)


def _delete(case: Path) -> None:
    """Delete the folder of a drill's case: one just made, or one that ``_state`` has looked at."""
    shutil.rmtree(case.parent, ignore_errors=True)
