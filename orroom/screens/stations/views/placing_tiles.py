"""The placing screen's large figures: the number typed; of the cursor's size what is owed and what waits."""

from collections.abc import Mapping
from typing import Final, NamedTuple

from orroom.case.plan import Size
from orroom.figures.counts import SizeCount, ZoneCount, total
from orroom.figures.next_zone import NAMES
from orroom.figures.wording import MISMATCH, grafts, marked, over_plan
from orroom.screens.stations.views.placing_stock import InHands
from orroom.screens.stations.views.typed_number import BUTTONS_LINE, NOTHING_TYPED
from orroom.screens.terminal.digits import ROWS, block_digits, largest_scale
from orroom.screens.terminal.painting import Line, Span, Tone, beside, first_that_fits, line

#: Rows of a figure beside its digits: its name, what it is measured against, the digits as buttons.
AROUND_FIGURE: Final = 3
#: Room is kept for this many digits: figures keep their size while a number is typed.
USUAL_DIGITS: Final = "888"


class Typed(NamedTuple):
    """The number so far, the lane that it is for, and why it would not add up, in words and in fewer."""

    number: str
    lane: str
    wrong: tuple[str, ...]


class _Tile(NamedTuple):
    """A figure: its name above, what it is measured against below, each also in fewer words."""

    names: tuple[str, ...]
    figure: str
    against: tuple[str, ...]
    tone: Tone
    #: What is wrong is below the figure alone where the figure itself is right.
    wrong: bool = False


def large_tiles(
    zone: ZoneCount,
    name: str,
    size: Size,
    held: Mapping[str, SizeCount],
    hands: InHands,
    typed: Typed | None,
    width: int,
    room: int,
) -> list[Line]:
    """The figures in at most ``room`` rows, no more than two in three of them; nothing where they find none.

    ``name`` is the zone's, ``held`` the case's grafts by size; ``typed`` is ``None`` while no number can be.
    """
    times = min(room * 2 // 3 // ROWS, (room - AROUND_FIGURE) // ROWS)
    if times < 1:
        return []
    tiles = [_owed(zone, size.key), *_waiting(held, hands, size.key)]
    if typed is not None:
        tiles.insert(0, _typed(typed, size, name))
    column = width // len(tiles)
    plain = [each.figure.replace(",", "") for each in tiles]
    scale = largest_scale([USUAL_DIGITS, *plain], column - 1, times * ROWS)
    if not scale.width:
        return []
    columns: list[tuple[list[Line], int]] = []
    for each, figure in zip(tiles, plain, strict=True):
        rows = [line(Span(f" {row}", each.tone)) for row in block_digits(figure, scale)]
        if not figure:
            rows[scale.height // 2] = line(NOTHING_TYPED)
        above = line(Span(f" {first_that_fits(each.names, column - 2)}", "strong"))
        below = line(
            Span(
                f" {first_that_fits(each.against, column - 2)}",
                "wrong" if each.wrong or each.tone == "wrong" else "plain",
            )
        )
        columns.append(([above, *rows, below], column))
    lines = [*beside(*columns), *([BUTTONS_LINE] if typed is not None else [])]
    return [(), *lines] if len(lines) < room else lines


def _typed(typed: Typed, size: Size, zone: str) -> _Tile:
    whose = f" for {typed.lane}" if typed.lane else ""
    return _Tile(
        (f"TYPED{whose}, Enter places it", f"TYPED{whose}"),
        typed.number,
        typed.wrong or (f"{NAMES[size.key][typed.number != '1']} → {zone}", f"→ {zone}"),
        "wrong" if typed.wrong else "mine",
    )


def _owed(zone: ZoneCount, size: str) -> _Tile:
    """What the cursor's zone is still owed of its size."""
    placed, planned, ones = zone.placed[size], zone.planned[size], NAMES[size][1].upper()
    over = max(0, placed - planned)
    of = f"{grafts(placed)} of {grafts(planned)}"
    against = (
        (f"{of} placed{over_plan(over)}", f"{of}{over_plan(over)}")
        if planned or placed
        else ("not planned here",)
    )
    tone: Tone = "owed" if zone.owed[size] else "done"
    return _Tile((f"{ones} OWED HERE", "OWED HERE"), grafts(zone.owed[size]), against, tone, over > 0)


def _waiting(held: Mapping[str, SizeCount], hands: InHands, size: str) -> tuple[_Tile, _Tile]:
    """What waits of a size, in dishes and in the chosen lane, or with the placers where there is none.

    Below each is what waits there of all sizes. A count below zero and a sum with one have the mark of it.
    """
    ones, where, mine, whole = NAMES[size][1].upper(), hands.where.upper(), held[size], total(held)
    beyond = f" {MISMATCH}" * bool(mine.dish_short)
    in_all = sum(hands.held.values())
    return (
        _Tile(
            (f"{ones} IN DISHES{beyond}", f"IN DISHES{beyond}"),
            grafts(mine.dish),
            (f"all sizes {marked(whole.dish, whole.dish_short)}",),
            "wrong" if beyond else "plain",
        ),
        _Tile(
            (f"{ones} {where}", where),
            grafts(hands.held.get(size, 0)),
            (f"all sizes {marked(in_all)}",),
            "wrong" if hands.held.get(size, 0) < 0 else "plain",
        ),
    )
