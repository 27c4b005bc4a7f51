"""Verbs about people's figures across cases: the clinic's own file, a person's page, a meeting's."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from orroom.cli.common import PATH, REPLACE, write
from orroom.errors import OrroomError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from orroom.formats.blocks import Block
    from orroom.people.people_file import PeopleFile

FILE = click.option("--file", "path", type=PATH, help="Another file than people.sqlite next to the settings.")
FORMAT = click.option(
    "--format", "form", type=click.Choice(("text", "html")), default="text", show_default=True
)
OUTPUT = click.option("--output", type=PATH, help="Write to this file instead of the screen.")
COUNT = click.IntRange(0, 1_000_000)


class _Initials(click.ParamType):  # type: ignore[type-arg]  # generic only for type checkers
    name = "initials"

    def convert(self, value: object, param: click.Parameter | None, ctx: click.Context | None) -> str:
        from orroom.case.terms import is_initials

        text = str(value).upper()
        return text if is_initials(text) else self.fail(f"{value} is not a person's initials.", param, ctx)


WHO = _Initials()


@click.group()
def people() -> None:
    """Show each person's figures across cases, fairly.

    They are in a file of the clinic's own, people.sqlite next to the settings, which only this account can
    read. It is never put into an archive, nor exported with a case. Each person sees the own page first; a
    meeting sees letters. Nobody is ranked. Ask the people first, and keep to what the law says about records
    of employees.
    """


@people.command()
@click.argument("cases", metavar="CASE...", type=PATH, nargs=-1, required=True)
@click.option("--without", metavar="INITIALS", type=WHO, multiple=True, help="Leave this person out.")
@FILE
def add(cases: tuple[Path, ...], without: tuple[str, ...], path: Path | None) -> None:
    """Add the figures of signed-off CASEs, each once.

    A case that was changed since is taken again. Who was removed does not come back with it, but does with a
    case that is new here: leave them out with --without.
    """
    from orroom.figures.wording import day
    from orroom.people.from_case import figures_of
    from orroom.record.closed_case import closed_case, ends_of

    failed = 0
    with _opened(path, make=True) as file:
        for case in cases:
            try:
                begun, seal = ends_of(case)
                state = closed_case(case, seal)
                on = day(state.log[0].stamp.at_ms, state.tally.utc_offset_minutes)
                figures = [each for each in figures_of(state) if each.who not in without]
                added = file.add(begun, seal.hash, on, figures)
            except OrroomError as problem:
                if len(cases) == 1:
                    raise
                failed += 1
                click.echo(f"orroom: {problem}", err=True)
            else:
                nobody = "nobody, there are no figures by person in it"
                said = "is there already" if added is None else f"added: {added or nobody}"
                click.echo(f"{case}: {said}.")
    if failed:
        raise OrroomError(f"{failed} of {len(cases)} cases were not added.")


@people.command("list")
@FILE
def list_people(path: Path | None) -> None:
    """List who is in the file, in alphabetical order, and of how many cases."""
    from orroom.figures.wording import several

    with _opened(path) as file:
        seen = file.seen()
        for who, cases in file.people().items():
            own = "own page seen" if who in seen else "own page not seen with the newest case"
            click.echo(f"{who:<6}{several(cases, 'case'):>10}  {own}")
        number, first, last = file.days()
        click.echo(f"{several(number, 'case')}, {first} to {last}." if number else "No cases.")


@people.command()
@click.argument("who", metavar="INITIALS", type=WHO)
@FORMAT
@OUTPUT
@REPLACE
@FILE
def show(who: str, form: str, output: Path | None, path: Path | None, *, replace: bool) -> None:
    """Show a person's own page: the own figures next to the team's."""
    from orroom.people.own_page import own_page
    from orroom.people.team import of_team

    with _opened(path) as file:
        page = own_page(who, file.days(), of_team(file.steps()), file.pairs())
        _written(f"{who}: own figures", page, form, output, replace=replace)
        file.show(who)


@people.command()
@FORMAT
@OUTPUT
@REPLACE
@FILE
def meeting(form: str, output: Path | None, path: Path | None, *, replace: bool) -> None:
    """Show the team's figures for a meeting: letters in place of initials, drawn by chance each time.

    Only those get a letter who have seen their own page with all of their cases.
    """
    from random import SystemRandom

    from orroom.people.meeting_page import meeting_page
    from orroom.people.team import of_team

    with _opened(path) as file:
        shuffle = SystemRandom().shuffle
        page = meeting_page(file.days(), of_team(file.steps()), file.seen(), file.pairs(), shuffle)
        _written("The team's figures", page, form, output, replace=replace)


@people.command()
@click.argument("who", metavar="INITIALS", type=WHO)
@FILE
def remove(who: str, path: Path | None) -> None:
    """Delete everything about a person who leaves. It cannot be undone.

    Nothing of them stays in the file. Copies of the file, and pages that were printed or saved, are yours to
    delete.
    """
    from orroom.figures.wording import several

    with _opened(path) as file:
        cases = file.remove(who)
        click.echo(f"{who} is deleted from {file.path}: {several(cases, 'case')}.")


@people.command()
@click.argument("first", metavar="INITIALS", type=WHO)
@click.argument("second", metavar="INITIALS", type=WHO)
@click.option("--both", type=COUNT, required=True, help="Grafts that both called faulty.")
@click.option("--first", "only_first", type=COUNT, required=True, help="Grafts that only the first did.")
@click.option("--second", "only_second", type=COUNT, required=True, help="Grafts that only the second did.")
@click.option("--neither", type=COUNT, required=True, help="Grafts that neither did.")
@FILE
def agree(
    *,
    first: str,
    second: str,
    both: int,
    only_first: int,
    only_second: int,
    neither: int,
    path: Path | None,
) -> None:
    """Enter how two checkers judged the same grafts, neither knowing the other's verdict."""
    from orroom.people.agreement import Pair
    from orroom.people.wording import agreed

    pair = Pair(both, only_first, only_second, neither)
    if first == second or not pair.of:
        raise click.UsageError("two people are needed, and one graft at least")
    with _opened(path, make=True) as file:
        file.agree(first, second, pair)
        click.echo(f"{first} and {second}, these alone: {agreed(pair)}")


def _opened(path: Path | None, *, make: bool = False) -> PeopleFile:
    import os

    from orroom.files.settings_file import settings_path
    from orroom.people.people_file import NAME, PeopleFile

    return PeopleFile(path or settings_path(os.environ).with_name(NAME), make=make)


def _written(title: str, page: Sequence[Block], form: str, output: Path | None, *, replace: bool) -> None:
    from orroom.case.terms import visible
    from orroom.formats.html import html
    from orroom.formats.markdown import markdown

    write(visible(html(title, page) if form == "html" else markdown(page)), output, replace=replace)
