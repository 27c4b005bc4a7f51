"""The verb that redistributes the sizes over the zones when the yield differs from the plan."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING

import click
from msgspec.structs import replace

from orroom.case.terms import DIVISION, SIZE_KEYS, visible
from orroom.cli.common import PATH, Measure, record, state_of
from orroom.errors import OrroomError

if TYPE_CHECKING:
    from orroom.case.terms import Side
    from orroom.figures.replan.proposal import NoProposal, Proposal

Amounts = Mapping[str, float]


def _amounts(low: float, high: float) -> Callable[[click.Context, click.Parameter, tuple[str, ...]], Amounts]:
    """A callback that reads ``KEY=NUMBER`` for sizes or zones, each number from ``low`` to ``high``."""

    def read(ctx: click.Context, param: click.Parameter, values: tuple[str, ...]) -> Amounts:
        amounts = {}
        for value in values:
            key, given, number = value.partition("=")
            if not given:
                raise click.BadParameter(f"{value} is not like {param.metavar}", ctx, param)
            amounts[key.strip().upper()] = Measure(low, high).convert(number.strip(), param, ctx)
        return amounts

    return read


def _ways(ctx: click.Context, param: click.Parameter, values: tuple[str, ...]) -> tuple[tuple[str, str], ...]:
    """``SIZE=PIECES`` as size and pieces."""
    ways = []
    for value in values:
        size, _, pieces = value.upper().replace(" ", "").partition("=")
        if size not in SIZE_KEYS or not re.fullmatch(DIVISION, pieces):
            raise click.BadParameter(f"{value} is not like {param.metavar}", ctx, param)
        ways.append((size, pieces))
    return tuple(ways)


@click.command()
@click.argument("case", type=PATH)
@click.option(
    "--supply",
    callback=_amounts(0, 10_000),
    multiple=True,
    metavar="1=400",
    help="Usable grafts expected of a size, placed ones included.  [default: as projected]",
)
@click.option(
    "--combing-side", type=click.Choice(("left", "right")), help="Give zones on this side priority."
)
@click.option("--upper-arc", multiple=True, metavar="ZONE", help="Give the vertex's upper arc priority.")
@click.option(
    "--least-hairs",
    callback=_amounts(0.1, 1600),
    multiple=True,
    metavar="ZONE=80",
    help="Fewest hairs per cm² in a zone.",
)
@click.option(
    "--most-grafts",
    callback=_amounts(0.1, 400),
    multiple=True,
    metavar="ZONE=35",
    help="Most grafts per cm² in a zone.",
)
@click.option(
    "--raise-by",
    type=Measure(0, 100),
    metavar="PERCENT",
    help="Where grafts are left over, add up to this share of a zone's planned hairs.",
)
@click.option(
    "--divide",
    callback=_ways,
    multiple=True,
    metavar="3=1+2",
    help="Also allow larger grafts to be divided this way.",
)
@click.option("--accept", is_flag=True, help="Revise the plan as proposed.")
@click.option("--who", help="With --accept: initials of the person who accepts.")
def replan(
    case: Path,
    supply: Amounts,
    combing_side: Side | None,
    upper_arc: tuple[str, ...],
    raise_by: float | None,
    divide: tuple[tuple[str, str], ...],
    who: str | None,
    *,
    accept: bool,
    **bounds: Amounts,
) -> None:
    """Propose a re-plan when the yield differs from the plan.

    It redistributes the sizes of a CASE over its zones. What the plan asks of a re-plan counts, unless an
    option says otherwise.
    """
    from orroom.figures.replan.proposal import aims_now, expected_supply
    from orroom.figures.replan.proposal import replan as proposed
    from orroom.words.replan import replan_text

    if accept and not who:
        raise click.UsageError("--accept needs --who, for example --accept --who AB")
    state = state_of(case)
    if unknown := [size for size in supply if size not in state.plan.size_by_key]:
        raise click.UsageError(f"--supply: the plan has no size {', '.join(unknown)}")
    given = {size: round(count) for size, count in supply.items()}
    own = aims_now(state, divide)
    aims = replace(
        own,
        least_hairs_per_cm2={**own.least_hairs_per_cm2, **bounds["least_hairs"]},
        most_grafts_per_cm2={**own.most_grafts_per_cm2, **bounds["most_grafts"]},
        combing_side=combing_side or own.combing_side,
        upper_arc=tuple(zone.upper() for zone in upper_arc) or own.upper_arc,
        raise_share=own.raise_share if raise_by is None else raise_by / 100,
    )
    try:
        answer = proposed(state.plan, state.tally.placed, expected_supply(state, given), aims)
    except ValueError as problem:
        raise click.UsageError(str(problem)) from None
    click.echo(visible(replan_text(answer, state)))
    if accept and who:
        _accept(case, answer, who)


def _accept(case: Path, answer: Proposal | NoProposal, who: str) -> None:
    """Revise the plan as proposed, unless there are new entries."""
    from orroom.figures.replan.proposal import NoProposal, revision, still_holds

    if isinstance(answer, NoProposal) or not answer.asks_for_something:
        raise OrroomError("Nothing to accept.", "The plan stays as it is.")
    if not still_holds(answer, state_of(case)):
        raise OrroomError("New entries were made since.", "Ask for the re-plan again.")
    command = revision(answer)
    record(case, command, who)
    click.echo(f"\n{case}: plan revised by {who}, {command.plan.planned():,} grafts planned.")
