"""Verbs that print in plain text what the screens show and which keys they have."""

from __future__ import annotations

import sqlite3
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from shutil import get_terminal_size
from typing import TYPE_CHECKING, Final, Literal

import click

from orroom.case.terms import ROLES, Role, visible
from orroom.cli.common import PATH, REPLACE, write
from orroom.errors import CaseFileError, OrroomError, RecordNotIntactError
from orroom.record.case_clock import case_clock

if TYPE_CHECKING:
    from orroom.screens.terminal.keys import Keys

#: Besides the roles: the final count, which has keys of its own.
COUNT: Final = "count"
#: What keys do in fewer words than the help on the screen has, or in other ones.
ON_CARD = {
    "help": "what keys and numbers mean; why something was refused",
    "figures": "how each figure is worked out, and its source",
    "next_zone": "go to suggested zone",
    "harvest": "harvest start or end",
    "cancel": "cancel entry by number",
    "explain": "say why (≠, ◇)",
    "stick_and_place": "zone: stick and place",
    "move": "move a placing's zone",
    "break": "start, end your break",
    "no_lane": "grafts in no lane",
}


@click.command()
@click.argument("case", type=PATH)
@click.option("--plain", is_flag=True, help="Words only, without the screens' marks.")
@click.option("--follow", is_flag=True, help="Then a line for every change, until Control-C or sign-off.")
def status(case: Path, plain: bool, follow: bool) -> None:
    """Print the state of a CASE in plain lines.

    For screen readers and scripts; read-only, also while stations are open. With --follow a line is added for
    every change: counts, prompts due and overdue, mismatches and broken limits that open or are settled,
    zones finished.
    """
    with _verified(case), suppress(KeyboardInterrupt):
        _follow(case, plain=plain, follow=follow)


@contextmanager
def _verified(case: Path) -> Iterator[None]:
    """Say of a record that is not intact that it is not, before all else; its exit code comes after all."""
    from orroom.record.verify import verify as verdict_on

    verdict = verdict_on(case)
    if not verdict.intact:
        click.echo(f"orroom: {case} is NOT INTACT: {verdict.sentence} {verdict.advice}", err=True)
    yield
    if not verdict.intact:
        sys.exit(RecordNotIntactError.exit_code)


def _follow(case: Path, *, plain: bool, follow: bool) -> None:
    from orroom.case.evolve import fold
    from orroom.desk import LOOK_SECONDS
    from orroom.record.case_file import CaseFile
    from orroom.words.status import changes, finish_expected, present, status_at, text

    with CaseFile.open(case, read_only=True) as case_file:
        clock, seen = case_clock(case_file), case_file.data_version()
        state = fold(case_file.entries_after(0))
        now = status_at(state, clock.now_ms())
        found = present(now) + finish_expected(state, now.at_ms)
        while True:
            for each in found:
                click.echo(text(each, now, plain=plain))
            if not follow or now.signed_off is not None:
                return
            time.sleep(LOOK_SECONDS)
            case_file.check_there()  # otherwise it would be silent for ever, and nobody would know
            try:
                if (version := case_file.data_version()) != seen:
                    seen, state = version, fold(case_file.entries_after(state.seq), state)
            except sqlite3.Error as problem:
                raise CaseFileError(
                    f"{case} can no longer be read: {problem}.", "If the disk is there, start it again."
                ) from problem
            before, now = now, status_at(state, clock.now_ms())
            found = changes(before, now)


@click.command()
@click.argument("case", type=PATH)
@click.option(
    "--from", "left", metavar="INITIALS", help="Who leaves: adds what changed since their last entry."
)
@click.option("--plain", is_flag=True, help="Words only, without the screens' marks.")
def handover(case: Path, left: str | None, plain: bool) -> None:
    """Print what the person who comes has to know.

    Ten lines at most, the most pressing first, as s shows them at a station: where each lane, zone and
    harvest is, what is due, what is open, what changed. Read-only, also while stations are open.
    """
    width = get_terminal_size().columns if sys.stdout.isatty() else None
    with _verified(case):
        for row in handed_over(case, left, width, plain=plain):
            click.echo(row)


def handed_over(
    case: Path, left: str | None = None, width: int | None = None, *, plain: bool = False
) -> list[str]:
    """What the person who comes has to know, in rows of ``width`` columns, or each in one row."""
    from orroom.case.events import doer
    from orroom.case.evolve import fold
    from orroom.record.case_file import CaseFile
    from orroom.words.handover import handover as parts_of
    from orroom.words.status import Said, status_at, text

    with CaseFile.open(case, read_only=True) as case_file:
        state = fold(case_file.entries_after(0))
        now = status_at(state, case_clock(case_file).now_ms())
    people = sorted({who for each in state.log for who in (each.stamp.who, doer(each))})
    if left is not None and left not in people:
        raise OrroomError(f"{left} has entered nothing in {case}.", f"Who has: {', '.join(people)}.")
    parts = parts_of(state, now.at_ms, left)
    rows = [Said(each.mark, each.words) for each in parts]
    if width is not None:
        from orroom.screens.stations.views.handover import in_rows

        width -= len(text(Said("", ""), now, plain=True))
        rows = [Said(each.mark if each.first else "", each.words) for each in in_rows(parts, width)]
    return [visible(text(each, now, plain=plain)) for each in rows]


def state_now(case: Path) -> list[str]:
    """The state of a case in plain lines, as it is now."""
    from orroom.case.evolve import fold
    from orroom.record.case_file import CaseFile
    from orroom.words.status import finish_expected, present, status_at, text

    with CaseFile.open(case, read_only=True) as case_file:
        state = fold(case_file.entries_after(0))
        now = status_at(state, case_clock(case_file).now_ms())
    return [text(each, now, plain=False) for each in present(now) + finish_expected(state, now.at_ms)]


@click.command()
@click.option("--role", type=click.Choice([*ROLES, COUNT]), required=True)
@click.option("--output", type=PATH, help="Write to this file instead of the screen.")
@REPLACE
def keys(role: Role | Literal["count"], output: Path | None, *, replace: bool) -> None:
    """Print a key card for a role or the final count.

    It fits on one A5 page.
    """
    card, problem = card_of(role)
    if problem:  # a card of other keys than somebody expects says so
        click.echo(f"orroom: {problem}", err=True)
    write(card, output, replace=replace)


def card_of(role: Role | Literal["count"]) -> tuple[str, str]:
    """A key card, and what is wrong with the clinic's settings, if anything is."""
    from orroom.screens.settings.clinic import this_clinic
    from orroom.words.key_card import key_card
    from orroom.words.screen_numbers import meanings_of

    clinic = this_clinic()
    if role == COUNT:
        return key_card("final count", *_final_count(clinic.keys)), clinic.problem
    rows = [
        (each.shown, ON_CARD.get(each.action, each.help))
        for each in clinic.keys.of(role)
        if each.action != f"role('{role}')"
    ]
    return key_card(role, rows, [(each.shown, each.means) for each in meanings_of(role)]), clinic.problem


def _final_count(keys: Keys) -> tuple[list[tuple[str, str]], list[tuple[str, str]]]:
    """What begins the final count, its keys, those of the comparison; and what both screens show."""
    from orroom.screens.stations.views.over import COMPARING, COUNTING

    rows = [(keys.shown("overview", "final_count"), "at the overview: two people count, one after the other")]
    rows += [(each.shown, each.does) for each in COUNTING.keys]
    rows.append(("then", "both counts are compared:"))
    rows += [(each.shown, each.does) for each in COMPARING.keys]
    return rows, [*COUNTING.numbers, *COMPARING.numbers]
