"""Verbs about many cases: collect closed ones, and report on them."""

from pathlib import Path

import click

from orroom.cli.common import PATH, REPLACE, write
from orroom.errors import OrroomError

FORMATS = ("text", "html", "csv")


@click.group()
def archive() -> None:
    """Collect closed cases without names, and report on them.

    An archive is a folder of Parquet files. It contains no case code, initials, date or free text, only the
    month of each case. Its key (FOLDER.key) and a catalogue of when cases were added lie next to it: do not
    pass these on. The files' own times show that too, and survive a copy that keeps times. Anyone who knows a
    case's own figures can still recognise it.
    """


@archive.command()
@click.argument("cases", metavar="CASE...", type=PATH, nargs=-1, required=True)
@click.option("--to", "folder", metavar="FOLDER", type=PATH, required=True, help="Archive; made if missing.")
@click.option("--site", default="here", show_default=True, help="Name of the site: a-z, 0-9, hyphens.")
@click.option("--keep-dates", is_flag=True, help="Keep the day and every entry's time, not only the month.")
@click.option("--replace", is_flag=True, help="Replace cases that are there already.")
def add(cases: tuple[Path, ...], folder: Path, site: str, *, keep_dates: bool, replace: bool) -> None:
    """Add signed-off CASEs whose record is intact, each once."""
    from contextlib import closing

    from orroom.archive.adding import Archive, How, check_site

    how = How(check_site(site), keep_dates, replace)
    failed = 0
    with closing(Archive(folder)) as archived:
        for case in cases:
            try:
                click.echo(archived.add(case, how))
            except OrroomError as problem:
                if len(cases) == 1:
                    raise
                failed += 1
                click.echo(f"orroom: {problem}", err=True)
    if failed:
        raise OrroomError(f"{failed} of {len(cases)} cases were not added.")


@archive.command()
@click.argument("folder", type=PATH)
@click.option("--format", "form", type=click.Choice(FORMATS), default="text", show_default=True)
@click.option("--output", type=PATH, help="Write to this file instead of the screen.")
@REPLACE
def report(folder: Path, form: str, output: Path | None, *, replace: bool) -> None:
    """Report the cases by year, month and site."""
    from orroom.archive.across import across
    from orroom.archive.report_csv import to_csv
    from orroom.archive.report_page import to_html, to_text
    from orroom.case.terms import visible

    told = {"text": to_text, "html": to_html, "csv": to_csv}[form](across(folder))
    write(visible(told), output, replace=replace)


@archive.command()
@click.argument("folder", type=PATH)
@click.option("--output", type=PATH, help="Another file than habits.json next to the settings.")
def habits(folder: Path, output: Path | None) -> None:
    """Learn from an archive what the forecasts of its last 10 to 50 cases had wrong.

    The overview's finish is corrected by it from then on, as long as the file is there. It has numbers only:
    logarithms of the time taken over the time forecast, of no case by name, in no order.
    """
    click.echo(learned(folder, output))


def learned(folder: Path, output: Path | None = None) -> str:
    """Write what an archive says of past forecasts; answers in a sentence from how many cases."""
    import os

    from orroom.archive.clinic_habits import clinic_habits
    from orroom.files.habits_file import NAME, write_habits
    from orroom.files.settings_file import settings_path

    found = clinic_habits(folder)
    path = output or settings_path(os.environ).with_name(NAME)
    write_habits(path, found)
    return f"{path}: cutting from {len(found.cutting)} cases, placing from {len(found.placing)}."
