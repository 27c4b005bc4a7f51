"""Verbs about the record: import, copy, sign off, reopen, and the machine it is kept on."""

from __future__ import annotations

import os
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING

import click

from orroom.case.terms import SIGN_OUT, SignOutItem
from orroom.cli.common import PATH, Renamed, record, state_of
from orroom.errors import CaseFileError, EntryRefusedError, OrroomError, RecordNotIntactError
from orroom.figures.wording import several

if TYPE_CHECKING:
    from orroom.case.commands import SignOff
    from orroom.case.events import LeftOpen
    from orroom.record.machine import Finding


@click.command("import")
@click.argument("events", type=PATH)
@click.argument("case", type=PATH)
@click.option("--rescue", is_flag=True, help="EVENTS is a rescue file: add its taps to CASE.")
def import_case(events: Path, case: Path, *, rescue: bool) -> None:
    """Make a CASE file from EVENTS; the record is identical."""
    if rescue:
        said, refused = taps_added(events, case)
        click.echo(said)
        for each in refused:
            click.echo(f"  {each}", err=True)
        if refused:
            raise EntryRefusedError("Some taps were refused.", "Enter them by hand, or write them on paper.")
        return
    click.echo(imported(events, case)[1])


def imported(events: Path, case: Path | None = None, within: Path = Path()) -> tuple[Path, str]:
    """Make a case file of entries, by its code ``within`` a folder; answers its path, and a sentence."""
    from orroom.case.evolve import fold
    from orroom.record.case_file import CaseFile
    from orroom.record.events_file import read_events
    from orroom.record.opening import own_folder, remove
    from orroom.recording import record_all

    entries = read_events(events)
    case = case or own_folder(fold(entries).plan.case, within)
    with CaseFile.create(case) as case_file:
        try:
            record_all(case_file, entries, str(events))
        except OrroomError:
            remove(case)
            raise
    return case, f"{case}: {len(entries):,} entries imported."


def taps_added(rescue: Path, case: Path) -> tuple[str, list[str]]:
    """Add the taps of a rescue file to a case; answers a sentence, and what was refused."""
    from orroom.record.case_file import CaseFile
    from orroom.record.rescue import read_rescue
    from orroom.recording import record_rescued

    taps = read_rescue(rescue)
    with CaseFile.open(case) as case_file:
        taken, known, refused = record_rescued(case_file, taps)
    counts = f"{several(taken, 'tap')} added, {known:,} already there, {len(refused):,} refused."
    return f"{case}: {counts}", [str(each) for each in refused]


@click.command()
@click.argument("case", type=PATH)
@click.argument("copy", type=PATH)
def backup(case: Path, copy: Path) -> None:
    """Copy a CASE to COPY, even while stations are open."""
    from orroom.record.copies import backup as copy_case

    entries = copy_case(case, copy)
    click.echo(f"{copy}: {entries:,} entries copied and verified.")


@click.command()
@click.argument("copy", type=PATH)
@click.argument("case", type=PATH)
@click.option("--lose-entries", "lose", is_flag=True, help="Also where CASE has entries that COPY lacks.")
def restore(copy: Path, case: Path, *, lose: bool) -> None:
    """Put a COPY back in place of a CASE, if that loses nothing.

    What is in the place of CASE is looked at first, and kept under another name.
    """
    click.echo(restored(copy, case, lose=lose))


def restored(copy: Path, case: Path, *, lose: bool = False) -> str:
    """Put a copy back in place of a case; answers what was done, and where the earlier file is now."""
    from orroom.record.restoring import restore as put_back

    done = put_back(copy, case, lose=lose)
    said = [f"{case}: {done.entries:,} entries restored from {copy}."]
    if done.kept:
        said.append(f"What was in its place: {done.kept}")
    if done.lost:
        said.append(
            f"{done.lost:,} entries are in that file only. The record will say so from its next entry on."
        )
    return "\n".join(said)


@click.command()
@click.argument("folder", type=PATH, default=Path())
def machine(folder: Path) -> None:
    """Check this machine and FOLDER, and suggest fixes.

    Without FOLDER it looks at the folder you are in. The exit code is 3 if no case may be kept there.
    """
    from orroom.record.machine import examined

    findings = examined(folder, os.environ)
    click.echo(examination(findings))
    if unfit := [each.what for each in findings if each.unfit]:
        raise CaseFileError(f"Keep no case in {folder}: {', '.join(unfit)}.", "Follow the arrows above.")


def examination(findings: Iterable[Finding]) -> str:
    """What was found of a machine, line by line."""
    lines = []
    for finding in findings:
        lines.append(f"{finding.what:<11} {finding.found}")
        if finding.advice:
            lines.append(f"{'':<11} → {finding.advice}")
    return "\n".join(lines)


@click.command("sign-off")
@click.argument("case", type=PATH)
@click.option("--who", required=True, help="Initials of the first person who signs.")
@click.option("--second", required=True, help="Initials of the second person.")
@click.option(
    "--open",
    "reasons",
    metavar="KEY=REASON",
    multiple=True,
    help="Why one open thing stays open, by its key (repeat for each). Without it they are listed.",
)
@click.option("--open-because", help="Why everything else that is open stays open.")
@click.option(
    "--informed", "--told", cls=Renamed, help="Who was informed of what stays open: initials or role."
)
@click.option(
    "--confirmed",
    type=click.Choice(tuple(SIGN_OUT)),
    multiple=True,
    help="A sign-out item (WHO checklist) said aloud (repeat for each).",
)
def sign_off(
    case: Path,
    who: str,
    second: str,
    reasons: tuple[str, ...],
    open_because: str | None,
    informed: str | None,
    confirmed: tuple[SignOutItem, ...],
) -> None:
    """Close a CASE, signed by two people. It is locked until reopened."""
    from orroom.case.closing import open_at_sign_off
    from orroom.case.commands import SignOff
    from orroom.case.refusals.counting import refuse_closing_on_what_is_open

    still = {each.key: each.sentence for each in open_at_sign_off(state_of(case))}
    left = _left_open(reasons, informed, still)
    signing = SignOff(
        second=second,
        open_because=open_because,
        informed=informed if open_because else None,
        confirmed=confirmed or None,  # without any, nobody was asked
        left_open=left,
    )
    try:
        locked = closed(case, who, signing)
    except EntryRefusedError as refused:
        if refused.message != refuse_closing_on_what_is_open.__doc__:
            raise
        listed = "\n".join(f"  {key:<24} {sentence}" for key, sentence in still.items())
        raise EntryRefusedError(
            f"{case}: {refused.message} Open:\n{listed}\n",
            'Settle it, or give a reason for each as --open KEY="…", or one for all as --open-because, '
            "and as --informed who was informed.",
        ) from refused
    for key, sentence in still.items():
        click.echo(f"Left open: {key}: {sentence}.", err=True)
    click.echo(f"{case}: signed off by {who} and {second}.\nLocked copy: {locked}")
    click.echo(f"Next: orroom summary {case}")


def _left_open(
    reasons: tuple[str, ...], informed: str | None, still: Mapping[str, str]
) -> tuple[LeftOpen, ...]:
    """The reasons given for single things. Raises a usage error for what is not open, or without a reason."""
    from orroom.case.events import LeftOpen

    left: dict[str, LeftOpen] = {}
    for each in reasons:
        key, _, because = (part.strip() for part in each.partition("="))
        if not because or not informed:
            raise click.UsageError(f"--open takes KEY=REASON, and --informed who was informed; not {each!r}")
        if key not in still:
            raise click.UsageError(f"{key!r} is not open. Open: {', '.join(still) or 'nothing'}")
        left[key] = LeftOpen(key=key, sentence=still[key], because=because, informed=informed)
    return tuple(left.values())


def closed(case: Path, who: str, sign_off: SignOff) -> Path:
    """Close a case by two people, if it is intact; answers its locked copy."""
    from orroom.record.copies import locked_copy
    from orroom.record.verify import verify as verdict_on

    verdict = verdict_on(case)
    if not (verdict.intact or verdict.says_so):
        raise RecordNotIntactError(
            f"{case}: {verdict.sentence}", "Not signed off: find out what happened first."
        )
    record(case, sign_off, who)
    try:
        return locked_copy(case)
    except OrroomError as problem:
        raise OrroomError(
            f"The case IS signed off, but its locked copy failed: {problem}",
            f"Make a copy by hand: orroom backup {case} COPY.orroom",
        ) from problem


@click.command()
@click.argument("case", type=PATH)
@click.option("--who", required=True, help="Initials of the person who reopens it.")
@click.option("--reason", required=True)
def reopen(case: Path, who: str, reason: str) -> None:
    """Reopen a signed-off CASE, with a reason."""
    from orroom.case.commands import ReopenCase

    record(case, ReopenCase(reason=reason), who)
    click.echo(f"{case}: reopened by {who}.")
