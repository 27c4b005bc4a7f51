"""Verbs about many cases: collect closed ones, and report on them."""

from pathlib import Path
from time import monotonic

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
    failed, begun = 0, monotonic()
    with closing(Archive(folder)) as archived:
        if len(cases) == 1:
            click.echo(archived.add(cases[0], how))
            return
        for done, said in enumerate(archived.add_all(cases, how), 1):
            left = _left(monotonic() - begun, done, len(cases))
            problem = isinstance(said, OrroomError)
            failed += problem
            click.echo(f"[{done:,} of {len(cases):,}{left}] {'orroom: ' * problem}{said}", err=problem)
    if failed:
        raise OrroomError(f"{failed} of {len(cases)} cases were not added.")


def _left(took_s: float, done: int, of: int) -> str:
    """How long the rest will take at this pace, where that is minutes."""
    minutes = took_s / done * (of - done) / 60
    return f", about {minutes:.0f} min left" if minutes >= 1 else ""


@archive.command()
@click.argument("folder", type=PATH)
@click.option("--format", "form", type=click.Choice(FORMATS), default="text", show_default=True)
@click.option("--measure", "names", metavar="NAME", multiple=True, help="Only this measure; may be repeated.")
@click.option("--to-hand-on", is_flag=True, help="Leave single cases out, for readers outside the clinic.")
@click.option("--output", type=PATH, help="Write to this file instead of the screen.")
@REPLACE
def report(
    folder: Path, form: str, names: tuple[str, ...], output: Path | None, *, to_hand_on: bool, replace: bool
) -> None:
    """Report the cases one by one, and by year, month and site.

    The report says each measure's NAME; one that does not exist is answered with all of them.
    """
    from orroom.archive.across import across
    from orroom.archive.measures import chosen
    from orroom.archive.report_csv import to_csv
    from orroom.archive.report_page import to_html, to_text
    from orroom.case.terms import visible

    whole = across(folder, chosen(names))
    text = {"text": to_text, "html": to_html, "csv": to_csv}[form](whole, single=not to_hand_on)
    write(visible(text), output, replace=replace)


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
