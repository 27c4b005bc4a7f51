"""Verbs that open a screen: a station at a case, the demo."""

import gc
import sys
import tempfile
from pathlib import Path
from typing import Literal, get_args

import click

from orroom.case.terms import ROLES, Role, Theme
from orroom.cli.common import PATH, THE_ROOM, Measure

#: The demo as it comes: case time to real time, which day, how much of it is over; and who you are in it.
SPEED, SEED, SKIP_MINUTES, YOU = 60.0, 417, 120.0, "YO"

theme_option = click.option(
    "--theme", type=click.Choice(get_args(Theme)), help="[default: the clinic's setting]"
)


@click.command("open")
@click.argument("case", type=PATH)
@click.option("--role", type=click.Choice(ROLES), default="overview", show_default=True)
@click.option("--who", help="Initials of the person at this station; needed for cutting and placing.")
@theme_option
def open_case(case: Path, role: Role, who: str | None, theme: Theme | None) -> None:
    """Open a station on a CASE, live with the others."""
    if who is None and role != "overview":
        raise click.UsageError(f"a {role} station needs --who and initials, for example --who AB")
    sys.exit(stationed(case, role, who or THE_ROOM, theme))


def stationed(case: Path, role: Role, who: str, theme: Theme | None, first: str = "") -> int:
    """Sit at a station until it is left; answers the exit code. ``first`` is an action done at once."""
    # Starting makes much and drops nothing; ``tidy_up`` in ``screens/stations/app.py`` turns it on.
    gc.disable()
    # OpenSSL takes a fifteenth of a start to load: hashlib has a SHA-256 of its own, and asyncio would use it
    # for connections alone, which no station opens.
    for module in ("_hashlib", "ssl"):
        sys.modules.setdefault(module, None)  # type: ignore[arg-type]  # how an import is refused
    try:
        from orroom.desk import Desk
        from orroom.record.case_file import CaseFile
        from orroom.screens.stations.sitting import need_a_terminal, sit_at

        with CaseFile.open(case) as case_file:
            need_a_terminal()
            return sit_at(Desk(case_file, role, who), theme, first=first)
    finally:
        gc.enable()


@click.command()
@click.argument("case", type=PATH)
@click.option("--role", type=click.Choice((*ROLES, "count")), default="overview", show_default=True)
@theme_option
def replay(case: Path, role: Role | Literal["count"], theme: Theme | None) -> None:
    """Replay a CASE, even a running one, on any screen.

    It shows a role's screen as it was, or the final count (--role count). Nothing can be entered.
    """
    from orroom.screens.stations.sitting import need_a_terminal

    need_a_terminal()
    sys.exit(replayed(case, role, theme))


def replayed(case: Path, role: Role | Literal["count"], theme: Theme | None) -> int:
    """Replay until it is left; answers the exit code."""
    from orroom.record.case_file import CaseFile
    from orroom.screens.stations.sitting import paint_at_once

    with CaseFile.open(case, read_only=True) as case_file:
        paint_at_once()
        from orroom.screens.replay.screen import replay_case
        from orroom.screens.settings.clinic import this_clinic

        return replay_case(case_file, role, theme or this_clinic().settings.theme)


@click.command()
@click.option(
    "--speed", type=Measure(1, 600), default=SPEED, show_default=True, help="How much faster than real time."
)
@click.option(
    "--seed", type=int, default=SEED, show_default=True, help="The same number repeats the same day."
)
@click.option(
    "--skip",
    type=Measure(0, 600),
    default=SKIP_MINUTES,
    show_default=True,
    help="Start this many minutes into the day.",
)
@click.option("--role", type=click.Choice(ROLES), default="overview", show_default=True)
@click.option("--who", default=YOU, show_default=True, help="Your own initials in the demo.")
@click.option("--case", "case_path", type=PATH, help="Keep the demo's case file here.")
@theme_option
def demo(
    speed: float, seed: int, skip: float, role: Role, who: str, case_path: Path | None, theme: Theme | None
) -> None:
    """Try an invented 2,400-graft case with a simulated team.

    It runs faster than real time; your own taps are counted too.
    """
    from orroom.screens.stations.sitting import need_a_terminal

    need_a_terminal()
    path = case_path or Path(tempfile.mkdtemp(prefix="orroom-demo-")) / "demo.orroom"
    code = demonstrated(path, speed, seed, skip, role, who, theme)
    click.echo(f"The demo's case file: {path}\nIts summary: orroom summary {path}")
    sys.exit(code)


def demonstrated(
    path: Path,
    speed: float = SPEED,
    seed: int = SEED,
    skip: float = SKIP_MINUTES,
    role: Role = "overview",
    who: str = YOU,
    theme: Theme | None = None,
) -> int:
    """Show the demo, its case file at ``path``, until the station is left; answers the exit code."""
    from orroom.demo.start import demo_plan, start_demo
    from orroom.desk import Desk
    from orroom.screens.stations.shared import Demo
    from orroom.screens.stations.sitting import sit_at

    case_file, team = start_demo(path, demo_plan(), seed=seed, speed=speed, skip_minutes=skip)
    try:
        welcome = f"A simulated team, {speed:g} × as fast as real time · F1 keys, F10 ends it"
        return sit_at(Desk(case_file, role, who), theme, demo=Demo(welcome, lambda: team.done))
    finally:
        team.stop()
