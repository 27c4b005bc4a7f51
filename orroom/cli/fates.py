"""The verb about what becomes of grafts that are left at the end."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from orroom.cli.common import PATH, record, state_of
from orroom.errors import EntryRefusedError, OrroomError

if TYPE_CHECKING:
    from orroom.case.commands import GiveFate
    from orroom.case.state import CaseState


@click.command()
@click.argument("case", type=PATH)
@click.option("--who", help="Initials of the person who enters fates.")
@click.option(
    "--give",
    metavar="KEY=FATE",
    multiple=True,
    help="The fate of a group by its KEY, or of all: kept, left-over, returned, discarded, placed ZONE. "
    "A number before it gives the fate to some of them (repeat for each).",
)
@click.option("--by", help="Initials of who placed them; --who if left out.")
@click.option("--reason", help="Why; needed for grafts that are discarded.")
def fates(case: Path, who: str | None, give: tuple[str, ...], by: str | None, reason: str | None) -> None:
    """Show what is left of a CASE, or say what becomes of it.

    For example --give "dish:2:A=12 placed ML" --give all=kept: what the first leaves is kept.
    """
    state = _counted(case)
    if give:
        if who is None:
            raise click.UsageError("give --who and the initials of the person who says so")
        for command in _commands(state, give, who, by, reason):
            record(case, command, who)
    click.echo(fates_now(case))


def _counted(case: Path) -> CaseState:
    """The state of a case, unless a count of all that is left is under way: then nobody is shown it."""
    from orroom.words.final_count import running_words

    state = state_of(case)
    if running := list(running_words(state, "at the overview")):
        raise OrroomError(f"{case}: {', '.join(running)}.", "What is left is shown when the count is over.")
    return state


def fates_now(case: Path) -> str:
    """What is left of a case, and the fates that were entered."""
    from orroom.words.fates import fates_overview

    return fates_overview(_counted(case))


def _commands(
    state: CaseState, give: tuple[str, ...], who: str, by: str | None, reason: str | None
) -> list[GiveFate]:
    """The entries that were typed. Raises a usage error, or what the case refuses, before any is made."""
    from orroom.case.decide import decide
    from orroom.case.events import Entry, Stamp
    from orroom.case.evolve import evolve
    from orroom.case.fates import giving
    from orroom.case.rules import Refusal
    from orroom.words.fates import given, waiting

    commands = []
    for text in give:
        try:
            typed = given(text, state)
        except ValueError as wrong:
            raise click.UsageError(str(wrong)) from None
        if typed.fate == "discarded" and not reason:
            raise click.UsageError("discarded grafts need --reason and why")
        left = waiting(state)
        for group in list(left) if typed.group is None else [typed.group]:
            for command in giving(
                state.tally,
                group,
                typed.count or left[group],
                fate=typed.fate,
                into_zone=typed.zone,
                by=by if typed.zone is not None else None,
                reason=reason if typed.fate == "discarded" else None,
            ):
                stamp = Stamp(state.log[-1].stamp.at_ms, "desk", state.seq + 1, who)
                event = decide(state, command, stamp)
                if isinstance(event, Refusal):
                    raise EntryRefusedError(event.sentence, event.right)
                state = evolve(state, Entry(state.seq + 1, stamp, event))
                commands.append(command)
    return commands
