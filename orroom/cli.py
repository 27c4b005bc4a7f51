"""The command line: verbs only. Each imports what it needs when it runs; help and reports start no screen."""

from __future__ import annotations

import json
import os
import sys
import tempfile
from pathlib import Path
from typing import Any

import click

from orroom import __version__
from orroom.case.terms import CAUTIONS, ROLES, Role, visible
from orroom.cli_measure import Measure
from orroom.errors import OrroomError, RecordUnsoundError

#: Who an overview's entries are by when nobody says so: the room.
THE_ROOM = "OR"

FORMATS = ("md", "json", "csv")


class _Verbs(click.Group):
    """Shows an error of our own family in one sentence, with its exit code and no traceback."""

    def invoke(self, ctx: click.Context) -> Any:  # noqa: ANN401 - click's own type
        try:
            return super().invoke(ctx)
        except OrroomError as error:
            click.echo(f"orroom: {error}", err=True)
            ctx.exit(error.exit_code)


@click.group(
    cls=_Verbs, epilog="\n\n".join(CAUTIONS), context_settings={"help_option_names": ["-h", "--help"]}
)
@click.version_option(__version__, prog_name="orroom")
def main() -> None:
    """Live graft tallying for a hair-restoration operating room.

    Cutting technicians tap grafts as they sort, the placement lead enters what goes into each zone, the
    surgeon glances at totals; every entry is kept in one case file.
    """


_path = click.Path(path_type=Path)
_theme = click.option("--theme", type=click.Choice(["dark", "light"]), default="dark", show_default=True)


@main.command()
@click.argument("plan", type=_path)
def check(plan: Path) -> None:
    """Check a PLAN file: every error at once, and what the plan adds up to."""
    from orroom.record.plan_file import load_plan
    from orroom.reports.plan_text import plan_overview

    click.echo(plan_overview(load_plan(plan)))


@main.command()
@click.argument("plan", type=_path, required=False)
@click.option("--density", type=Measure(1, 400), help="Sites per cm², instead of a PLAN.")
@click.option("--front-mm", type=Measure(0.1, 600), help="Length of a front row: how many sites it takes.")
@click.option("--area-cm2", type=Measure(0.01, 400), help="An area: how many sites it takes.")
def spacing(plan: Path | None, density: float | None, front_mm: float | None, area_cm2: float | None) -> None:
    """Say how far apart sites lie in interlocked rows, for every zone of a PLAN or for one --density."""
    from orroom.record.plan_file import load_plan
    from orroom.reports.spacing_text import density_spacing, plan_spacing

    match plan, density:
        case None, float():
            click.echo(density_spacing(density, front_mm, area_cm2))
        case Path(), None if front_mm is None and area_cm2 is None:
            click.echo(plan_spacing(load_plan(plan)))
        case Path(), None:
            raise click.UsageError("--front-mm and --area-cm2 go with --density; a PLAN has its own areas")
        case _:
            raise click.UsageError("give either a PLAN file or --density, for example --density 40")


@main.command()
def schema() -> None:
    """Print the JSON Schema of plan files, for editors."""
    from orroom.record.plan_file import plan_schema

    click.echo(json.dumps(plan_schema(), indent=2, ensure_ascii=False))


@main.command()
@click.argument("plan", type=_path)
@click.option(
    "--case", "case_path", type=_path, help="The case file to make.  [default: one in a new folder CASE-CODE]"
)
@click.option("--who", help="Initials of whoever opens the case.  [default: from the plan's staff]")
def new(plan: Path, case_path: Path | None, who: str | None) -> None:
    """Make a case file from a PLAN file."""
    from orroom.case.commands import OpenCase
    from orroom.clock import utc_offset_minutes
    from orroom.desk import record_once
    from orroom.record.case_file import CaseFile
    from orroom.record.opening import own_folder, remove
    from orroom.record.plan_file import load_plan

    promised = load_plan(plan)
    path = case_path or own_folder(promised.case)
    staff = sorted(promised.staff, key=lambda person: person.role != "record")
    opener = who or (staff[0].initials if staff else THE_ROOM)
    with CaseFile.create(path) as case_file:
        try:
            record_once(case_file, OpenCase(plan=promised, utc_offset_minutes=utc_offset_minutes()), opener)
        except OrroomError:
            remove(path)
            raise
    click.echo(f"{path}: case {promised.case} opened by {opener}, {promised.planned():,} grafts planned.")
    click.echo(f"Next: orroom open {case_path or path.parent} --role cutting --who AB")


@main.command("open")
@click.argument("case", type=_path)
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


@main.command()
@click.option(
    "--speed", type=click.FloatRange(1, 600), default=60, show_default=True, help="Case time to real time."
)
@click.option("--seed", type=int, default=417, show_default=True, help="The same number gives the same day.")
@click.option(
    "--skip",
    type=click.FloatRange(0, 600),
    default=120,
    show_default=True,
    help="Minutes of the day that have passed when you come in.",
)
@click.option("--role", type=click.Choice(ROLES), default="overview", show_default=True)
@click.option("--who", default="YO", show_default=True, help="Your own initials in the demo.")
@click.option("--case", "case_path", type=_path, help="Keep the demo's case file here.")
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


@main.command()
@click.argument("case", type=_path)
@click.option("--format", "form", type=click.Choice(FORMATS), help="Plain text in this format.")
@click.option("--output", type=_path, help="Write it to this file instead of the screen.")
def summary(case: Path, form: str | None, output: Path | None) -> None:
    """Tell what a CASE comes to so far: totals, zones, times, care, people, mismatches, corrections."""
    from orroom.case.evolve import fold
    from orroom.record.case_file import CaseFile
    from orroom.reports.summary import summarise

    with CaseFile.open(case, read_only=True) as case_file:
        state = fold(case_file.entries_after(0))
        told = summarise(state, case_file.head_at(state.seq))
    if form is None and output is None:
        from rich.console import Console
        from rich.markdown import Markdown

        from orroom.reports.markdown import to_markdown

        Console().print(Markdown(visible(to_markdown(told))))
        return
    from orroom.reports.formats import FORMATTERS

    _write(visible(FORMATTERS[form or "md"](told)), output)


@main.command()
@click.argument("case", type=_path)
@click.argument("events", type=_path)
def export(case: Path, events: Path) -> None:
    """Write all entries of a CASE to an EVENTS file, one JSON object a line; - writes to the screen."""
    from orroom.record.case_file import CaseFile
    from orroom.record.encoding import lines_of

    with CaseFile.open(case, read_only=True) as case_file:
        entries = case_file.entries_after(0)
    _write(lines_of(entries), None if str(events) == "-" else events)
    click.echo(f"{len(entries):,} entries exported.", err=True)


@main.command("import")
@click.argument("events", type=_path)
@click.argument("case", type=_path)
@click.option("--rescue", is_flag=True, help="EVENTS is a rescue file: take its taps into the existing CASE.")
def import_case(events: Path, case: Path, *, rescue: bool) -> None:
    """Make a CASE file from an EVENTS file; it is the same record, entry by entry."""
    if rescue:
        _take_rescued(events, case)
        return
    from orroom.desk import record_all
    from orroom.record.case_file import CaseFile
    from orroom.record.events_file import read_events
    from orroom.record.opening import remove

    entries = read_events(events)
    with CaseFile.create(case) as case_file:
        try:
            record_all(case_file, entries, str(events))
        except OrroomError:
            remove(case)
            raise
    click.echo(f"{case}: {len(entries):,} entries imported.")


def _take_rescued(rescue: Path, case: Path) -> None:
    from orroom.desk import record_rescued
    from orroom.record.case_file import CaseFile
    from orroom.record.rescue import read_rescue

    taps = read_rescue(rescue)
    with CaseFile.open(case) as case_file:
        taken, known, refused = record_rescued(case_file, taps)
    click.echo(f"{case}: {taken:,} taps taken, {known:,} were there already, {len(refused):,} refused.")
    for each in refused:
        click.echo(f"  {each}", err=True)


@main.command()
@click.argument("case", type=_path)
@click.option(
    "--head", "printed", help="A head printed on a summary, as NUMBER:HASH; the hash may be cut short."
)
def verify(case: Path, printed: str | None) -> None:
    """Say in one sentence whether the record in a CASE is what was recorded."""
    from orroom.record.chain import Head
    from orroom.record.verify import verify as verdict_on

    head = None
    if printed is not None:
        number, _, start = printed.partition(":")
        if not number.isdigit() or len(start) < 8:
            raise click.UsageError("--head takes NUMBER:HASH with at least 8 digits of the hash")
        head = Head(int(number), start.lower())
    verdict = verdict_on(case, head)
    if not verdict.sound:
        raise RecordUnsoundError(
            f"{case}: {verdict.sentence}", f"Do not trust it from entry {verdict.from_entry} on."
        )
    click.echo(f"{case}: {verdict.sentence}\nHead {verdict.head.seq}:{verdict.head.hash}")


@main.command()
@click.argument("case", type=_path)
@click.argument("copy", type=_path)
def backup(case: Path, copy: Path) -> None:
    """Copy a CASE, also while stations are at it, to COPY."""
    from orroom.record.copies import backup as copy_case

    entries = copy_case(case, copy)
    click.echo(f"{copy}: {entries:,} entries copied and verified.")


@main.command()
@click.argument("folder", type=_path, default=Path())
def doctor(folder: Path) -> None:
    """Say what this machine gives cases kept in FOLDER (here, if none is named), with advice."""
    from orroom.record.machine import examined

    for finding in examined(folder, os.environ):
        click.echo(f"{finding.what:<11} {finding.found}")
        if finding.advice:
            click.echo(f"{'':<11} → {finding.advice}")


@main.command("sign-off")
@click.argument("case", type=_path)
@click.option("--who", required=True, help="Initials of the first person who signs.")
@click.option("--second", required=True, help="Initials of the second person.")
def sign_off(case: Path, who: str, second: str) -> None:
    """Close a CASE by two people; it takes no more entries until it is reopened."""
    from orroom.case.commands import SignOff
    from orroom.record.copies import seal

    _record(case, SignOff(second=second), who)
    sealed = seal(case)
    click.echo(f"{case}: signed off by {who} and {second}.\nSealed copy: {sealed}")


@main.command()
@click.argument("case", type=_path)
@click.option("--who", required=True, help="Initials of whoever reopens it.")
@click.option("--reason", required=True)
def reopen(case: Path, who: str, reason: str) -> None:
    """Open a signed-off CASE again, with the reason."""
    from orroom.case.commands import ReopenCase

    _record(case, ReopenCase(reason=reason), who)
    click.echo(f"{case}: reopened by {who}.")


def _record(case: Path, command: Any, who: str) -> None:  # noqa: ANN401 - any command
    from orroom.desk import record_once
    from orroom.record.case_file import CaseFile

    with CaseFile.open(case) as case_file:
        record_once(case_file, command, who)


def _write(text: str, output: Path | None) -> None:
    """Write a whole text to a new file, or to standard output."""
    if output is None:
        click.echo(text, nl=False)
        return
    try:
        with output.open("x", encoding="utf-8", newline="") as file:
            file.write(text)
    except FileExistsError:
        raise OrroomError(f"{output} exists already.", "Choose another name.") from None
    except OSError as problem:
        raise OrroomError(
            f"{output} cannot be written: {problem.strerror}.", "Choose another folder."
        ) from None
