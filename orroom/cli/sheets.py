"""The verb that prints what a plan needs on paper."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, cast

import click

from orroom.cli.common import PATH, REPLACE, write

if TYPE_CHECKING:
    from orroom.formats.sheets.sheet import SheetName

NAMES = ("labels", "tally", "zones", "figures")


def _named(ctx: click.Context, param: click.Parameter, names: str | None) -> tuple[SheetName, ...]:
    """The sheets that are wanted; all if none is named."""
    found = () if names is None else tuple(each.strip() for each in names.split(","))
    if wrong := [each for each in found if each not in NAMES]:
        raise click.BadParameter(f"{wrong[0]!r} is not one of {', '.join(NAMES)}.", ctx, param)
    return cast("tuple[SheetName, ...]", found)


@click.command()
@click.argument("plan", type=PATH)
@click.option("--only", callback=_named, help=f"Some of {','.join(NAMES)}.  [all]")
@click.option("--output", type=PATH, required=True, help="A file .pdf or .html; - prints the HTML.")
@REPLACE
def sheets(plan: Path, only: tuple[SheetName, ...], output: Path, *, replace: bool) -> None:
    """Print labels, paper tally, zones and figures of a PLAN.

    On A4: labels for dishes and lanes, a blank tally for the paper count, the zones for the wall, the plan's
    figures on one page.
    """
    ending, printing = output.suffix.lower(), str(output) == "-"
    if ending not in {".pdf", ".html"} and not printing:
        raise click.UsageError("--output takes a name that ends in .pdf or .html, or - to print the HTML")
    write(printed(plan, ending, only), None if printing else output, replace=replace)


def printed(plan: Path, ending: str, only: tuple[SheetName, ...] = ()) -> bytes:
    """The sheets of a plan file, by how the name of the new file ends: a PDF for .pdf, else HTML."""
    from orroom.formats.sheets.written import to_html, to_pdf
    from orroom.record.earlier import load_whole_plan

    promised = load_whole_plan(plan)
    return to_pdf(promised, only) if ending == ".pdf" else to_html(promised, only).encode()
