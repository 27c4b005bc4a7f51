"""The start screen's verb: shows it, does what was chosen, and shows it again until it is left."""

from __future__ import annotations

import signal
import sys
from functools import partial
from pathlib import Path
from tempfile import mkdtemp
from typing import TYPE_CHECKING, Final, Literal

import click

from orroom.case.terms import Theme
from orroom.cli import keep as kept
from orroom.cli import plan as plans
from orroom.cli import reports as told
from orroom.cli import stations as live
from orroom.cli.common import PATH, THE_ROOM, record, state_of
from orroom.errors import OrroomError

if TYPE_CHECKING:
    from orroom.screens.start.menus import Chosen, Found
    from orroom.screens.start.open_menus import Result


ENDS: Final = (signal.SIGTERM, signal.SIGINT, *([signal.SIGHUP] if hasattr(signal, "SIGHUP") else []))
#: A signal's exit code is this and its number.
BY_SIGNAL: Final = 128
#: What is longer than this is a page to read, not a line.
LONG: Final = 120


@click.command()
@click.argument("folders", type=PATH, nargs=-1)
@live.theme_option
def start(folders: tuple[Path, ...], theme: Theme | None) -> None:
    """Open the start screen for the cases in FOLDERS.

    Without FOLDERS: the clinic's cases folder and the folder you are in. It also opens when orroom runs in a
    terminal without a command.
    """
    from orroom.screens.stations.sitting import need_a_terminal, paint_at_once

    need_a_terminal()
    paint_at_once()
    from orroom.screens.settings.clinic import this_clinic
    from orroom.screens.start.screen import start_app

    handlers = {number: signal.getsignal(number) for number in ENDS}
    before: Result | None = None
    at: Path | None = None
    while True:
        clinic = this_clinic()
        settings = clinic.settings
        usual = [Path(settings.cases).expanduser()] if settings.cases else []
        looked_into = folders or (*usual, Path())  # new cases are made in the first of them
        within = looked_into[0]
        if before is None and clinic.problem:
            before = _wrong(clinic.problem)
        app = start_app(
            partial(found_in, looked_into),
            partial(attempted, within=within),
            theme=theme or settings.theme,
            told=before,
            at=at,
        )
        chosen = app.run_to_its_end()
        for number, handler in handlers.items():  # what comes between two screens ends the program
            signal.signal(number, handler)
        if chosen is None:
            sys.exit(app.return_code or 0)
        if chosen.what == "leave":
            return
        code, at, before = _attempted_outside(chosen, theme, within)
        if code:
            sys.exit(code)


def found_in(folders: tuple[Path, ...]) -> Found:
    """What the start screen can offer."""
    from orroom.record.cases import found_cases, found_plans
    from orroom.screens.start.menus import Found

    return Found(found_cases(folders), found_plans(folders), where=str(folders[0].resolve()))


def _attempted_outside(
    chosen: Chosen, theme: Theme | None, within: Path
) -> tuple[int, Path | None, Result | None]:
    """Do what needs the terminal; what goes wrong is shown on the start screen, unless a signal ended it."""
    try:
        code, at, before = _done_outside(chosen, theme, within)
    except OrroomError as error:
        if error.exit_code > BY_SIGNAL:
            raise
        return 0, chosen.path, _wrong(str(error))
    except Exception as fault:  # noqa: BLE001 - the start screen goes on, whatever it is
        return 0, chosen.path, _wrong(f"orroom failed there: {fault!r}.")
    if 0 < code <= BY_SIGNAL:
        return 0, at, _wrong("The station failed. Everything it had shown as counted is in the case.")
    return code, at, before


def attempted(chosen: Chosen, within: Path = Path()) -> Result:
    """Do what needs no terminal; what goes wrong is said, and ends nothing. New cases are made ``within``."""
    try:
        return _done_inside(chosen, within)
    except OrroomError as error:
        return _wrong(str(error))
    except Exception as fault:  # noqa: BLE001 - the start screen goes on, whatever it is
        return _wrong(f"orroom could not do that: {fault!r}.")


def _wrong(words: str) -> Result:
    from orroom.screens.start.open_menus import Result

    long = "\n" in words or len(words) > LONG
    return Result(words, title="That did not work" if long else "", wrong=True)


def _done_inside(chosen: Chosen, within: Path) -> Result:
    from orroom.screens.start.open_menus import Result

    path = chosen.path or Path()
    match chosen.what:
        case "make":
            case, sentence = plans.made(path, chosen.who, within=within)
            return Result(sentence, case=case)
        case "summary":
            from orroom.formats.blocks import Paragraph, Strong
            from orroom.formats.summary_blocks import blocks_of

            summary, not_intact = told.summed_up(path)
            warning = (Paragraph(Strong(not_intact)),) if not_intact else ()
            return Result("", title="Summary", blocks=(*warning, *blocks_of(summary)))
        case "verify":
            return Result(told.verified(path), title="Verify")
        case "back up":
            return Result(_backed_up(path))
        case "page":
            return Result(f"{_written(path, 'html')}: open it in a browser to read or print it.")
        case "pdf":
            return Result(_written(path, "pdf"))
        case "lock":
            from orroom.record.copies import locked_copy

            return Result(f"Locked copy: {locked_copy(path)}")
        case "sign off":
            from orroom.screens.start.menus import sign_off

            return Result("", then=partial(sign_off, path, state_of(path)))
        case "close" if chosen.sign_off is not None:
            locked = kept.closed(path, chosen.who, chosen.sign_off)
            by = f"{chosen.who} and {chosen.sign_off.second}"
            return Result(f"Signed off by {by}. Locked copy: {locked}. The summary is above, also to print.")
        case "sheets":
            from orroom.cli.common import write
            from orroom.cli.sheets import printed
            from orroom.files.plan_saving import free_names

            names = free_names(path.with_suffix(".sheets"), ".pdf")
            file = next(each for each in names if not each.exists())
            write(printed(path, ".pdf"), file)
            return Result(f"{file}: print it at its own size.")
        case "reopen":
            from orroom.case.commands import ReopenCase

            record(path, ReopenCase(reason=chosen.reason), chosen.who)
            return Result(f"Reopened by {chosen.who}.")
    raise OrroomError(f"{chosen.what} is not possible here.")


def _written(case: Path, form: Literal["html", "pdf"]) -> str:
    """Write the summary of a case to the first free name next to it; answers the name, and what is wrong."""
    from orroom.cli.common import write
    from orroom.files.plan_saving import free_names
    from orroom.formats.summary_formats import written

    summary, not_intact = told.summed_up(case)
    names = free_names(case.with_suffix(".summary"), f".{form}")
    file = next(each for each in names if not each.exists())
    write(written(summary, form, "r4b"), file)
    return f"{not_intact} {file}".strip()


def _backed_up(case: Path) -> str:
    """Copy a case to the first free name next to it."""
    from orroom.record.copies import backup
    from orroom.record.opening import SUFFIX

    names = (case.with_name(f"{case.stem}.copy-{number}{SUFFIX}") for number in range(1, 1000))
    copy = next((each for each in names if not each.exists()), None)
    if copy is None:
        raise OrroomError("There are 999 copies next to it.", "Move some of them elsewhere.")
    return f"{copy}: {backup(case, copy):,} entries copied and verified. Keep it on another disk too."


def _done_outside(
    chosen: Chosen, theme: Theme | None, within: Path
) -> tuple[int, Path | None, Result | None]:
    """Do what needs the terminal; answers the exit code, the case to go on with, and what is to be said."""
    from orroom.screens.start.open_menus import Result

    path = chosen.path
    match chosen.what:
        case "open" if path is not None:
            return live.stationed(path, chosen.role, chosen.who or THE_ROOM, theme), path, None
        case "final count" if path is not None:
            return live.stationed(path, "overview", THE_ROOM, theme, first="final_count"), path, None
        case "replay" if path is not None:
            return live.replayed(path, "overview", theme), path, None
        case "practice":
            code, counted = live.practised(live.YOU, theme)
            return code, None, Result(counted)
        case "demo":
            demo = Path(mkdtemp(prefix="orroom-demo-")) / "demo.orroom"
            return live.demonstrated(demo, theme=theme), None, Result(f"The demo's case file: {demo}")
        case "machine":
            return 0, None, Result(kept.examination(within), title="This machine")
        case "settings":
            from orroom.screens.settings.screen import change_settings

            change_settings()
            return 0, None, None
        case "write plan":
            from orroom.screens.plan_form.screen import filled_in

            outcome = filled_in(path, within)
            if outcome.file is None:
                kept_as = f"Draft saved: {outcome.draft}" if outcome.draft else "No plan written."
                return outcome.code, None, Result(kept_as)
            from orroom.files.plan_file import load_plan
            from orroom.screens.start.menus import make_case

            return 0, None, Result("", then=partial(make_case, outcome.file, load_plan(outcome.file)))
        case "change plan" if path is not None:
            from orroom.cli.plan_form import revised_in_form

            return 0, path, Result(revised_in_form(path, chosen.who) or "The plan stays as it is.")
    raise OrroomError(f"{chosen.what} is not possible.")
