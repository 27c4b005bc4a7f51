"""The start screen's verb: shows it, does what was chosen, and shows it again until it is left."""

from __future__ import annotations

import os
import signal
import sys
from functools import partial
from pathlib import Path
from tempfile import mkdtemp
from typing import TYPE_CHECKING, Final, cast

import click

from orroom.case.terms import Theme
from orroom.cli import guide, training
from orroom.cli import keep as kept
from orroom.cli import stations as live
from orroom.cli.common import PATH, THE_ROOM
from orroom.cli.start_inside import attempted
from orroom.cli.start_results import wrong
from orroom.errors import OrroomError

if TYPE_CHECKING:
    from orroom.demo.lessons import LessonName
    from orroom.screens.start.chosen import Chosen, Found
    from orroom.screens.start.open_menus import Result


ENDS: Final = (signal.SIGTERM, signal.SIGINT, *([signal.SIGHUP] if hasattr(signal, "SIGHUP") else []))
#: A signal's exit code is this and its number.
BY_SIGNAL: Final = 128


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
    shown_too: list[Path] = []  # folders of sample days, while the program runs
    while True:
        clinic = this_clinic()
        settings = clinic.settings
        usual = [Path(settings.cases).expanduser()] if settings.cases else []
        # New cases are made in the first of them.
        looked_into = (*(folders or (*usual, Path())), *shown_too)
        within = looked_into[0]
        if before is None and clinic.problem:
            before = wrong(clinic.problem)
        app = start_app(
            partial(found_in, looked_into),
            partial(attempted, within=within),
            theme=theme or settings.theme,
            result=before,
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
        if chosen.what == "sample day" and at is not None:
            shown_too.append(at.parent)
        if code:
            sys.exit(code)


def found_in(folders: tuple[Path, ...]) -> Found:
    """What the start screen can offer."""
    from orroom.demo.samples import samples_folder
    from orroom.record.cases import found_cases, found_files, found_plans
    from orroom.screens.start.chosen import Found

    templates = samples_folder()
    return Found(
        found_cases(folders),
        found_plans(folders),
        where=str(folders[0].resolve()),
        templates=tuple(each for each in found_plans((templates,)) if each.plan is not None),
        events=found_files(folders, "*.jsonl"),
        archives=tuple(each.parent for each in found_files(folders, "archive.json")),
        guide=tuple((page, guide.title_of(page)) for page in guide.ALL_PAGES),
    )


def _attempted_outside(
    chosen: Chosen, theme: Theme | None, within: Path
) -> tuple[int, Path | None, Result | None]:
    """Do what needs the terminal; what goes wrong is shown on the start screen, unless a signal ended it."""
    try:
        code, at, before = _done_outside(chosen, theme, within)
    except OrroomError as error:
        if error.exit_code > BY_SIGNAL:
            raise
        return 0, chosen.path, wrong(str(error))
    except Exception as fault:  # noqa: BLE001 - the start screen goes on, whatever it is
        return 0, chosen.path, wrong(f"orroom failed there: {fault!r}.")
    if 0 < code <= BY_SIGNAL:
        return 0, at, wrong("The station failed. Everything it had shown as counted is in the case.")
    return code, at, before


def _done_outside(
    chosen: Chosen, theme: Theme | None, within: Path
) -> tuple[int, Path | None, Result | None]:
    """Do what needs the terminal; answers the exit code, the case to go on with, and what is to be said."""
    from orroom.demo.samples import sample_day
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
            code, counted = training.practised(cast("LessonName", chosen.typed), live.YOU, theme)
            return code, None, Result(counted)
        case "drill":
            code, score = training.chosen_drill(chosen.typed, chosen.who, theme)
            return code, None, Result(score, title="Your drill")
        case "demo":
            demo = Path(mkdtemp(prefix="orroom-demo-")) / "demo.orroom"
            return live.demonstrated(demo, theme=theme), None, Result(f"The demo's case file: {demo}")
        case "sample day":
            sample = Path(mkdtemp(prefix="orroom-sample-")) / "sample-day.orroom"
            kept.imported(sample_day(), sample)
            said = Result(f"A sample day, of invented people. Nothing done to it counts: {sample}")
            return live.replayed(sample, "overview", theme), sample, said
        case "machine":
            from orroom.record.machine import examined

            findings = examined(within, os.environ)
            return 0, None, Result(kept.examination(findings), title="This machine")
        case "settings":
            from orroom.screens.settings.screen import change_settings

            change_settings()
            return 0, None, None
        case "write plan":
            from orroom.screens.plan_form.screen import filled_in

            outcome = filled_in(path, within, opens=True)
            if outcome.file is None:
                kept_as = f"Draft saved: {outcome.draft}" if outcome.draft else "No plan written."
                return outcome.code, None, Result(kept_as)
            if not outcome.open_case:
                return 0, None, Result(f"{outcome.file}: the plan is saved; n makes a case of it.")
            from orroom.files.plan_file import load_plan
            from orroom.screens.start.menus import make_case

            return 0, None, Result("", then=partial(make_case, outcome.file, load_plan(outcome.file)))
        case "change plan" if path is not None:
            from orroom.cli.plan_form import revised_in_form

            return 0, path, Result(revised_in_form(path, chosen.who) or "The plan stays as it is.")
    raise OrroomError(f"{chosen.what} is not possible.")
