"""Verbs that open a screen: a station at a case, the demo."""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

import click

from orroom.case.terms import ROLES, Role
from orroom.cli.common import PATH, THE_ROOM, Measure

_theme = click.option("--theme", type=click.Choice(["dark", "light"]), default="dark", show_default=True)


@click.command("open")
@click.argument("case", type=PATH)
@click.option("--role", type=click.Choice(ROLES), default="overview", show_default=True)
@click.option("--who", help="Initials of the person at this station; needed for cutting and placing.")
@_theme
def open_case(case: Path, role: Role, who: str | None, theme: str) -> None:
    """Open a station at a CASE, live beside all other stations on it."""
    from orroom.desk import Desk
    from orroom.record.case_file import CaseFile
    from orroom.screens.sitting import need_a_terminal, sit_at

    if who is None and role != "overview":
        raise click.UsageError(f"a {role} station needs --who and initials, for example --who AB")
    with CaseFile.open(case) as case_file:
        need_a_terminal()
        code = sit_at(Desk(case_file, role, who or THE_ROOM), theme)
    sys.exit(code)


@click.command()
@click.option("--speed", type=Measure(1, 600), default=60, show_default=True, help="Case time to real time.")
@click.option("--seed", type=int, default=417, show_default=True, help="The same number gives the same day.")
@click.option(
    "--skip",
    type=Measure(0, 600),
    default=120,
    show_default=True,
    help="Minutes of the day that have passed when you come in.",
)
@click.option("--role", type=click.Choice(ROLES), default="overview", show_default=True)
@click.option("--who", default="YO", show_default=True, help="Your own initials in the demo.")
@click.option("--case", "case_path", type=PATH, help="Keep the demo's case file here.")
@_theme
def demo(
    speed: float, seed: int, skip: float, role: Role, who: str, case_path: Path | None, theme: str
) -> None:
    """Watch an invented 2,400-graft case with a simulated team, in faster time; your own taps count too."""
    from orroom.demo.start import demo_plan, start_demo
    from orroom.desk import Desk
    from orroom.screens.sitting import need_a_terminal, sit_at

    need_a_terminal()
    path = case_path or Path(tempfile.mkdtemp(prefix="orroom-demo-")) / "demo.orroom"
    case_file, team = start_demo(path, demo_plan(), seed=seed, speed=speed, skip_minutes=skip)
    try:
        code = sit_at(Desk(case_file, role, who), theme)
    finally:
        team.stop()
    click.echo(f"The demo's case file: {path}\nIts summary: orroom summary {path}")
    sys.exit(code)
