"""Verbs about a plan: check it, space its sites, make a case of it."""

import json
import sys
from pathlib import Path

import click

from orroom.cli.common import PATH, Measure, record, state_of
from orroom.errors import OrroomError


@click.command()
@click.argument("plan", type=PATH)
def check(plan: Path) -> None:
    """Check a PLAN file: all errors at once, and its totals."""
    from orroom.record.earlier import load_whole_plan
    from orroom.words.plan import plan_overview

    click.echo(plan_overview(load_whole_plan(plan)))


@click.command()
@click.argument("plan", type=PATH, required=False)
@click.option("--density", type=Measure(1, 400), help="Sites per cm², instead of a PLAN.")
@click.option("--front-mm", type=Measure(0.1, 600), help="Length of a front row: the number of sites in it.")
@click.option("--area-cm2", type=Measure(0.01, 400), help="An area: the number of sites in it.")
def spacing(plan: Path | None, density: float | None, front_mm: float | None, area_cm2: float | None) -> None:
    """Print the distance between sites, for a PLAN or one density.

    Rows are taken as interlocked: each site lies in a gap of the row before.
    """
    from orroom.files.plan_file import load_plan
    from orroom.words.spacing import density_spacing, plan_spacing

    match plan, density:
        case None, float():
            click.echo(density_spacing(density, front_mm, area_cm2))
        case Path(), None if front_mm is None and area_cm2 is None:
            click.echo(plan_spacing(load_plan(plan)))
        case Path(), None:
            raise click.UsageError("--front-mm and --area-cm2 go with --density; a PLAN has its own areas")
        case _:
            raise click.UsageError("give either a PLAN file or --density, for example --density 40")


@click.command()
@click.argument("pressed_mm", type=float)
def elasticity(pressed_mm: float) -> None:
    """Work out scalp elasticity from two marks 50 mm apart.

    PRESSED_MM is the distance between the marks when the scalp is pressed together.
    """
    try:
        click.echo(elasticity_of(pressed_mm))
    except ValueError as wrong:
        raise click.BadParameter(str(wrong)) from None


def elasticity_of(pressed_mm: float) -> str:
    """The elasticity and how it is worked out. Raises ``ValueError`` for what cannot be a distance."""
    from orroom.figures.donor import ELASTICITY_MARKS_MM, ELASTICITY_SOURCE, elasticity_percent

    found = elasticity_percent(pressed_mm)
    worked = f"({ELASTICITY_MARKS_MM} − {pressed_mm:g}) / {ELASTICITY_MARKS_MM}"
    touching = "" if pressed_mm else "\n0 mm means that the marks touch; if they do not, measure again."
    return f"{found:.0f} %: {worked}. {ELASTICITY_SOURCE}{touching}"


@click.command()
@click.option("--summary", is_flag=True, help="For the JSON of orroom summary instead.")
def schema(*, summary: bool) -> None:
    """Print the JSON Schema of plan files, for editors."""
    from orroom.files.plan_file import plan_schema
    from orroom.formats.json_text import summary_schema

    found = summary_schema() if summary else plan_schema()
    click.echo(json.dumps(found, indent=2, ensure_ascii=False).encode())


@click.command()
@click.argument("case", type=PATH)
@click.argument("plan", type=PATH, required=False)
@click.option("--who", required=True, help="Initials of the person who changes the plan.")
@click.option("--reason", help="Reason; the form asks for it.")
def revise(case: Path, plan: Path | None, who: str, reason: str | None) -> None:
    """Change the plan of a CASE, in a form or by a PLAN file.

    Stations may stay open. Grafts already placed stay placed.
    """
    from orroom.case.commands import RevisePlan
    from orroom.cli.plan_form import revised_in_form
    from orroom.record.earlier import revised_plan

    if plan is None:
        click.echo(revised_in_form(case, who, reason))
        return
    if reason is None:
        raise click.UsageError('a PLAN file needs --reason, for example --reason "five more in front"')
    in_force = state_of(case).plan
    promised = revised_plan(plan, in_force)
    if promised == in_force:
        raise OrroomError(
            f"{plan} is the plan in force already.", "Nothing was recorded. Is this the right file?"
        )
    record(case, RevisePlan(plan=promised, reason=reason), who)
    click.echo(f"{case}: plan revised by {who}, {promised.planned():,} grafts planned.")


@click.command()
@click.argument("plan", type=PATH)
@click.option(
    "--case", "case_path", type=PATH, help="Path of the new case file.  [default: in a folder CASE-CODE]"
)
@click.option("--who", help="Initials of the person opening the case (asked for in a terminal).")
def new(plan: Path, case_path: Path | None, who: str | None) -> None:
    """Make a case file from a PLAN file."""
    path, sentence = made(plan, who or _opener(), case_path)
    click.echo(f"{sentence}\nNext: orroom open {case_path or path.parent} --role cutting --who AB")


def _answers() -> bool:
    """Whether somebody sits at a terminal and can answer."""
    return sys.stdin.isatty()


def _opener() -> str:
    """Who opens the case, asked for where somebody can answer."""
    if not _answers():
        raise click.UsageError("give --who and the initials of the person who opens it, for example --who AB")
    answer: str = click.prompt("Who opens the case? Initials", err=True)
    return answer.strip().upper()


def made(plan: Path, who: str, case_path: Path | None = None, within: Path = Path()) -> tuple[Path, str]:
    """Make a case file from a plan file, ``within`` a folder; answers its path, and a sentence about it."""
    from orroom.case.commands import OpenCase
    from orroom.clock import utc_offset_minutes
    from orroom.record.case_file import CaseFile
    from orroom.record.earlier import load_whole_plan
    from orroom.record.opening import own_folder, remove
    from orroom.recording import record_once
    from orroom.words.plan import taken_over

    promised = load_whole_plan(plan)
    path = case_path or own_folder(promised.case, within)
    with CaseFile.create(path) as case_file:
        try:
            record_once(case_file, OpenCase(plan=promised, utc_offset_minutes=utc_offset_minutes()), who)
        except OrroomError:
            remove(path)
            raise
    said = f"{path}: case {promised.case} opened by {who}, {promised.planned():,} grafts planned."
    return path, " ".join([said, *taken_over(promised)])
