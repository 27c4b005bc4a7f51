"""The verb that says which size runs out when, and what would change it."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING, Literal, get_args

import click

from orroom.case.terms import DIVISION, Work, visible
from orroom.cli.common import PATH, state_of, write
from orroom.errors import OrroomError
from orroom.record.case_clock import case_clock

if TYPE_CHECKING:
    from orroom.case.state import CaseState
    from orroom.figures.flow.days import WhatIf
    from orroom.figures.flow.found import Flow
    from orroom.figures.replan.dividing import Way
    from orroom.figures.wording import Times

Form = Literal["text", "md", "html", "svg"]
#: What can be asked, as it is typed.
ASKED = "cutters=4, placers=2, divide=8x3=1+2 or start=B:20"
#: No room has more people at a work, and no start is further off (minutes).
MOST_PEOPLE, FARTHEST = 20, 480
_WORKS: dict[str, Work] = {"cutters": "cutting", "placers": "placing"}


@click.command()
@click.argument("case", type=PATH)
@click.option(
    "--what-if",
    multiple=True,
    metavar="CHANGE",
    help=f"{ASKED} (in minutes): what would change then. Can be given several times.",
)
@click.option("--format", "form", type=click.Choice(get_args(Form)), default="text")
@click.option("--output", type=PATH, help="Write to this file instead of the screen.")
def flow(case: Path, what_if: tuple[str, ...], form: Form, output: Path | None) -> None:
    """Show which size of a CASE runs out when.

    What waits and is cut, against what the zones are owed in placing order; what dividing would bring; by
    when the next harvest should start. Suggestions from the pace so far; nothing is entered.
    """
    write(flow_of(case, form, what_if), output)


def flow_of(case: Path, form: Form = "text", what_if: tuple[str, ...] = ()) -> str:
    """Which size runs out when, as it is written. Raises ``OrroomError`` for a case that is signed off."""
    from orroom.figures.case_times import case_times
    from orroom.figures.flow.outlook import flow as flow_now
    from orroom.figures.holding import counted_to_ms
    from orroom.figures.pace.rest_of_day import foretold
    from orroom.record.case_file import CaseFile

    state = state_of(case)
    with CaseFile.open(case, read_only=True) as case_file:
        now_ms = counted_to_ms(state, case_clock(case_file).now_ms())  # of an old record its last entry
    if state.tally.signed_off:
        raise OrroomError(f"{case} is signed off.", "Nothing is placed any more: see orroom summary.")
    known = foretold(state, now_ms)
    found = known.flow
    if what_if and found.unknown is None:
        asked = _what_if(what_if, state)
        found = flow_now(state, known.to_come, known.outlook, now_ms, asked)
    return visible(_written(found, case_times(state), form, what_if))


def _written(found: Flow, times: Times, form: Form, what_if: tuple[str, ...]) -> str:
    from orroom.formats.blocks import Paragraph
    from orroom.formats.flow_page import bars, flow_blocks, flow_svg
    from orroom.formats.html import html
    from orroom.formats.markdown import markdown

    if form == "svg":
        try:
            return flow_svg(found, times)
        except ValueError as unknown:
            raise OrroomError(f"There is no picture: {unknown}.", "Ask again later.") from None
    first, *rest = flow_blocks(found, times)
    blocks = [first, *([Paragraph(f"If {', '.join(what_if)}:")] if what_if else []), *rest]
    if form == "html":
        return html("Flow", blocks)
    text = markdown(blocks)
    if form == "md" or found.unknown is not None:
        return text
    return text + "\n" + "\n".join(bars(found, times)) + "\n"


def _what_if(changes: tuple[str, ...], state: CaseState) -> WhatIf:
    """The changes as they are typed. Raises ``UsageError`` for one that cannot be."""
    from orroom.figures.flow.days import WhatIf

    hands: dict[Work, float] = {}
    starts: dict[str, float] = {}
    divided: list[tuple[Way, int]] = []
    for change in changes:
        key, _, value = change.replace(" ", "").partition("=")
        if key in _WORKS and value.isdecimal() and 0 < int(value) <= MOST_PEOPLE:
            hands[_WORKS[key]] = int(value)
        elif key == "start" and (found := re.fullmatch(r"(\w+):(\d{1,3})", value.upper(), re.ASCII)):
            starts[found[1]] = _start(found[1], int(found[2]), state)
        elif key == "divide" and (found := re.fullmatch(r"(\d{1,4})X(\w)=(.+)", value.upper(), re.ASCII)):
            divided.append((_way(found[2], found[3], state), _in_dishes(int(found[1]), found[2], state)))
        else:
            raise click.UsageError(f"--what-if: {change} is not like {ASKED}")
    return WhatIf(hands, divided, starts)


def _start(harvest: str, minutes: int, state: CaseState) -> float:
    clock = state.tally.harvests.get(harvest)
    if harvest not in state.plan.harvest_by_key:
        raise click.UsageError(f"--what-if: the plan has no harvest {harvest}")
    if clock is not None and clock.started_at_ms is not None:
        raise click.UsageError(f"--what-if: harvest {harvest} has begun")
    if minutes > FARTHEST:
        raise click.UsageError(f"--what-if: a harvest starts in {FARTHEST} minutes at the latest")
    return minutes


def _way(size: str, pieces: str, state: CaseState) -> Way:
    from orroom.figures.replan.dividing import ways_now

    if not re.fullmatch(DIVISION, pieces) or not {size, *pieces.split("+")} <= {*state.plan.size_by_key}:
        raise click.UsageError(f"--what-if: size {size} cannot be divided into {pieces} by this plan")
    into = tuple(pieces.split("+"))
    return next(each for each in ways_now(state, ((size, pieces),)) if (each.size, each.into) == (size, into))


def _in_dishes(grafts: int, size: str, state: CaseState) -> int:
    there = state.tally.held("dish", size)
    if grafts > there:
        raise click.UsageError(f"--what-if: {there} of size {size} are in dishes, not {grafts}")
    return grafts
