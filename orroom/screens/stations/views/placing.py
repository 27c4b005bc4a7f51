"""The placing screen: every zone in placing order, by size, against the plan; a cursor on one cell."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Final

from orroom.case.care import with_placers_since_ms
from orroom.case.events import EntryCorrected, Event, PlanRevised, kinds_that
from orroom.case.final_count import count_running
from orroom.case.state import CaseState
from orroom.figures.counts import SizeCount, ZoneCount, by_size, by_zone, total
from orroom.figures.density import density_of
from orroom.figures.earlier import before_in
from orroom.figures.next_zone import NAMES
from orroom.figures.wording import (
    MISMATCH,
    NO_DATA,
    ago,
    decimal,
    grafts,
    marked,
    minutes_seconds,
    several,
)
from orroom.screens.stations.questions import ZONE_KEYS
from orroom.screens.stations.views.count_running import count_running_lines
from orroom.screens.stations.views.frame import (
    Glance,
    below_blocks,
    header_lines,
    hidden_lines,
    out_words,
)
from orroom.screens.stations.views.lanes import (
    ROOM_FOR_ROWS,
    lane_lines,
    lane_words,
    lanes_hidden,
)
from orroom.screens.stations.views.last_entries import entry_lines
from orroom.screens.stations.views.placing_stock import Stock, in_hands, too_many, what_waits
from orroom.screens.stations.views.placing_tiles import Typed, large_tiles
from orroom.screens.stations.views.placing_zone import next_line, zone_detail
from orroom.screens.stations.views.prompting import WALL
from orroom.screens.stations.views.typed_number import typed_number
from orroom.screens.stations.views.zone_names import sided, zone_names
from orroom.screens.terminal.layout import Block, Rank, rows_of, stacked
from orroom.screens.terminal.painting import (
    Line,
    Span,
    Tone,
    bar,
    first_that_fits,
    line,
    padded,
    rule,
)

#: From these heights on there is room for the zone in detail, and for what waits by size.
FULL_HEIGHT, ROOM_FOR_STOCK = 20, 16
#: Rows besides the zones: the names of their columns, what is in dishes, with the placers and owed, a number.
ROOM_FOR_STOCK_ROWS = 5
#: Columns: the least and the most room for a zone's name and its bar, the least for its density.
NARROWEST_NAME, WIDEST_NAME = 10, 26
BAR, WIDEST_BAR = 4, 40
#: Rows of a zone, at most, and columns that a cell may have more than it needs.
HIGHEST_ZONE, WIDER_CELL = 3, 6
#: A zone keeps this many columns for its name, whatever its sizes need.
LEAST_ZONE = 10
LEAST_DENSITY = 9
#: Columns before a zone's name: its number and its mark, apart, so that 8○ is not read as 80.
MARKS = 4
#: The least rows of the table: the names of its columns, a zone.
LEAST_TABLE = 2
#: A rule, an entry, and what is hidden: this many rows besides the zones show the last entries.
LEAST_WITH_ENTRIES = 3
#: More is placed than planned: of a zone, after a cell's placed/planned, before how many are over.
OVER: Final = "▲"
#: The last entries shown here: not every graft cut.
TOLD: Final[frozenset[type[Event]]] = kinds_that(lambda does: "placing" in does.undone_at) | {
    EntryCorrected,
    PlanRevised,
}


def placing_lines(state: CaseState, now_ms: int, glance: Glance) -> list[Line]:
    """All lines of the screen, exactly ``glance.height`` of them."""
    if count_running(state) is not None:
        return count_running_lines(state, now_ms, glance, _typed_lines(state, glance, held={}, room=0))
    full = glance.height >= FULL_HEIGHT
    zones = by_zone(state)
    held = by_size(state) if glance.height >= ROOM_FOR_STOCK else {}
    lanes = lane_lines(state, now_ms, glance)
    short = bool(lanes) and glance.height < ROOM_FOR_ROWS[0]  # then zones need rows more than this does
    above = [
        Block(header_lines(state, now_ms, glance, *_in_header(state, now_ms)), Rank.HEADER),
        Block(
            lanes, Rank.FIGURES if full else Rank.DETAIL
        ),  # on a small screen the cursor's zone comes first
    ]
    here = zones[glance.zone]
    rows = zone_detail(here, glance.width, before_in(state.plan, here.zone)) if full else []
    below = [
        Block([rule(glance.width)] if full else [], Rank.RULE),
        Block([*rows[:1], *next_line(state, glance), *rows[1:]] if full else [], Rank.DETAIL),
        *below_blocks(state, now_ms, glance, 2 if full and not short else 1),
    ]
    left = glance.height - rows_of([*above, *below]) - len(zones)
    waits = what_waits(held, one_row=short and left < ROOM_FOR_STOCK_ROWS) if held else []
    columns = _Columns(state, glance, waits)
    stock = [_stock_line(each, columns) for each in waits]
    room = left - len(stock) - 2
    below.insert(2, Block(_typed_lines(state, glance, held, room), Rank.TYPED))

    def table(rows: int) -> list[Line]:
        """The zones around the cursor, the stock below them, then the last entries."""
        if rows < LEAST_TABLE:
            return []
        head = [columns.header(state, "" if glance.asked else glance.keys.shown("placing", "zone"))]
        rows -= len(head)
        below_it = stock if rows > len(stock) else []
        rows -= len(below_it)
        spare = rows - len(zones)
        found = _hidden(state, glance, columns, spare=spare, stock=bool(below_it)) if rows > 1 else []
        rows -= len(found)
        first = min(max(0, glance.zone - rows // 2), max(0, len(zones) - rows))
        numbers = range(first, min(first + rows, len(zones)))
        high = min(HIGHEST_ZONE, 1 + max(0, spare - 1 - LEAST_WITH_ENTRIES) // len(zones))
        lines = [
            each for number in numbers for each in _zone_lines(zones[number], number, glance, columns, high)
        ]
        spare = rows - len(lines)
        entries = entry_lines(state, spare - 1, glance.width, kinds=TOLD) if spare > 1 else []
        return [*head, *lines, *below_it, *([rule(glance.width), *entries] if spare > 1 else []), *found]

    return stacked(above, table, below, glance.height, least=len(zones) + len(stock) + 1 if full else 3)


def _hidden(state: CaseState, glance: Glance, columns: _Columns, *, spare: int, stock: bool) -> list[Line]:
    """What a smaller screen leaves out; on a full one only zones, where there are more than rows.

    ``spare`` are the rows that zones leave, below 0 where they find none.
    """
    full = glance.height >= FULL_HEIGHT
    entries = ("last entries",) if spare < LEAST_WITH_ENTRIES else ()
    rest = ("next zone", *entries) if not full else ()
    if spare >= 0 and columns.all_sizes and not rest:
        return []
    if glance.asked:  # its answers need the room, but no zone is left out without a sign
        more = f" and {several(1 - spare, 'more zone')}"
        return [line(Span(more, "dim"))] if spare < 0 else []
    zone_keys = "↓" if glance.replayed else "↑ ↓"
    hidden = [
        *lanes_hidden(state, glance),
        *([several(1 - spare, "zone") + f" ({zone_keys})"] if spare < 0 else []),
        *(["sizes (← →)"] if not columns.all_sizes else []),
        *(["what waits"] if not stock else []),
        *rest,
        *(["/cm²"] if not full else []),
    ]
    return hidden_lines(glance, hidden)


def _in_header(state: CaseState, now_ms: int) -> tuple[str, ...]:
    """The oldest graft, what waits, what the placers have; then the same in fewer words."""
    long, out, shortest = out_words(state, now_ms)
    counts = total(by_size(state))
    with_placers = marked(counts.with_placers, counts.with_placers_short)
    since = with_placers_since_ms(state.tally)
    dishes = marked(counts.dish, counts.dish_short)
    drying = f", {minutes_seconds(now_ms - since)} since wet" if since else ""
    outside = f"{with_placers} with the placers{drying}"
    briefly = f"{with_placers} with placers{drying}"
    return (
        f"{long} · {dishes} in dishes · {outside}",
        f"{out} · {dishes} in dishes · {outside}",
        f"{out} · {dishes} in dishes · {briefly}",
        f"{out} · dishes {dishes} · {briefly}",
        f"{out} · {briefly}",
        briefly if counts.with_placers else out,
        *([f"{with_placers} with placers, {ago(now_ms - since)} since wet"] if since else []),
        f"{with_placers} with placers" if counts.with_placers else shortest,
    )


class _Columns:
    """How wide each column is: cells as wide as the plan needs, then the zone's name, bar and density.

    Where cells of placed/planned leave the zones no name, cells say what is left to place instead. Where
    they leave none even so, only sizes around the cursor are ``shown``.
    """

    def __init__(self, state: CaseState, glance: Glance, stock: Sequence[Stock]) -> None:
        width = glance.width
        zones = by_zone(state)
        counts = [(zone.placed[size], zone.planned[size]) for zone in zones for size in zone.planned]
        least = max((len(cell.text) for row in stock for cell in row.cells), default=0)
        sizes = len(state.plan.sizes)
        self.cell_text = _placed_of_planned
        self.cell = max(least, *(len(_placed_of_planned(*each)) for each in counts)) + 2
        if width - sizes * self.cell - MARKS < NARROWEST_NAME:
            self.cell_text = _left_to_place
            self.cell = max(least, *(len(_left_to_place(*each)) for each in counts)) + 2
        fit = max(1, min(sizes, (width - MARKS - LEAST_ZONE) // self.cell))
        first = min(max(0, glance.size - fit // 2), sizes - fit)
        #: The places of the sizes that there is room for.
        self.shown = range(first, first + fit)
        self.all_sizes = fit == sizes
        room = width - fit * self.cell - MARKS
        density = max(LEAST_DENSITY, *(len(_density_text(zone)) for zone in zones)) + 2
        self.density = density if room >= density + NARROWEST_NAME + BAR else 0
        room -= self.density
        bar_too = room >= NARROWEST_NAME + BAR
        self.name = max(LEAST_ZONE, min(WIDEST_NAME, room - (BAR if bar_too else 0)))
        self.bar = min(WIDEST_BAR, room - self.name) if bar_too else 0
        if bar_too:  # what is left over goes to all columns
            spare = room - self.name - self.bar
            wider = min(WIDER_CELL, spare // (fit + 2))
            self.cell += wider
            self.density += wider * bool(self.density)
            self.bar += spare - wider * (fit + bool(self.density))
        self.names = zone_names(state.plan, self.name - 1)

    def header(self, state: CaseState, key: str) -> Line:
        """The names of the columns, first the key that goes to a zone by its number, if it does now."""
        cells = [f"{state.plan.sizes[place].key:>{self.cell - 1}} " for place in self.shown]
        density = f"{'/cm²':>{self.density - 1}} " if self.density else ""
        zone = "zone" if self.cell_text is _placed_of_planned else "still owed"
        jump = Span(f"{key:^{MARKS}}", "button" if key else "dim", "zone")
        name = f"{zone:<{self.name + self.bar}}"
        return (jump, *(Span(each, "dim") for each in (name, *cells, density)))


def _placed_of_planned(placed: int, planned: int) -> str:
    return f"{grafts(placed)}/{grafts(planned)}" if planned or placed else "·"


def _left_to_place(placed: int, planned: int) -> str:
    if placed > planned:
        return f"{OVER}{grafts(placed - planned)}"
    return grafts(planned - placed) if planned else "·"


def _density_text(count: ZoneCount) -> str:
    density = density_of(count)
    return f"{decimal(density.placed_grafts_per_cm2)}/{decimal(density.planned_grafts_per_cm2)}"


def zone_mark(count: ZoneCount) -> tuple[str, Tone]:
    """The mark of a zone: grafts not meant for it, over plan, not treated, done as planned, or still owed."""
    if count.misplaced:
        return MISMATCH, "wrong"
    if count.zone.not_treated:
        return NO_DATA, "dim"
    if count.over_total:
        return OVER, "wrong"
    if not count.owed_total:
        return "●", "done"
    return "○", "owed"


def _zone_line(count: ZoneCount, number: int, glance: Glance, columns: _Columns) -> Line:
    mark, tone = zone_mark(count)
    here = number == glance.zone
    zone = count.zone.key
    go = f"go('{zone}', '')"
    name = padded(columns.names[zone], columns.name)
    parts = [
        Span(f"{(not glance.asked and ZONE_KEYS[number : number + 1]) or ' '} ", "dim", go),
        Span(f"{mark} ", tone, go),
        Span(name, "strong" if here else "plain", go),
    ]
    if columns.bar > 1:
        parts.append(Span(bar(count.within_plan, count.planned_total, columns.bar - 1) + " ", tone, go))
    sizes = tuple(count.planned)
    for place in columns.shown:
        size = sizes[place]
        parts.append(
            _cell(count, size, columns, f"go('{zone}', '{size}')", here=here and place == glance.size)
        )
    if columns.density:
        parts.append(Span(f"{_density_text(count):>{columns.density - 1}} ", "dim", go))
    return tuple(parts)


def _zone_lines(count: ZoneCount, number: int, glance: Glance, columns: _Columns, high: int) -> list[Line]:
    """A zone with its bar ``high`` rows high; the third row is left empty, so that bars do not touch."""
    first = _zone_line(count, number, glance, columns)
    if high == 1:
        return [first]
    go = f"go('{count.zone.key}', '')"
    filled = bar(count.within_plan, count.planned_total, columns.bar - 1) if columns.bar > 1 else ""
    second = line(
        Span(" " * (MARKS + columns.name), "plain", go),
        Span(filled.replace("▇", "█"), zone_mark(count)[1], go),
    )
    return [first, second, ()][:high]


def _cell(count: ZoneCount, size: str, columns: _Columns, go: str, *, here: bool) -> Span:
    placed, planned, width = count.placed[size], count.planned[size], columns.cell
    text = columns.cell_text(placed, planned)
    tone: Tone = "dim" if not planned and not placed else "plain"
    if placed > planned:
        tone = "wrong"
    elif planned and placed == planned:
        tone = "done"
    mark = OVER if placed > planned and OVER not in text else " "
    if size in count.misplaced:
        mark = MISMATCH
    if here:  # a mark takes the place of the bracket at the end
        return Span(f"{'[' + text + (mark.strip() or ']'):>{width}}", "cursor", go)
    return Span(f"{text:>{width - 1}}{mark}", tone, go)


def _stock_line(stock: Stock, columns: _Columns) -> Line:
    """A row of the table; a count below zero and a sum with one in it have the mismatch's mark."""
    name = columns.name + columns.bar
    spans = [Span(" " * MARKS + f"{first_that_fits(stock.names, name - 1):<{name}}", stock.tone)]
    parts = [(stock.cells[place], columns.cell) for place in columns.shown]
    if columns.density:
        parts.append((stock.whole._replace(text=f"all {stock.whole.text}"), columns.density))
    for amount, width in parts:
        mark = MISMATCH if amount.short else " "
        spans.append(Span(f"{amount.text:>{width - 1}}{mark}", "wrong" if amount.short else stock.tone))
    return tuple(spans)


def _typed_lines(state: CaseState, glance: Glance, held: Mapping[str, SizeCount], room: int) -> list[Line]:
    """The number typed and what Enter would do with it; large where there are rows for that.

    While something is asked nothing is typed here: digits are answers then.
    """
    zone, size = by_zone(state)[glance.zone], state.plan.sizes[glance.size]
    name, lane, hands = sided(zone.zone), lane_words(state, glance), in_hands(state, glance)
    wrong: tuple[str, ...] = ()
    if glance.typed and count_running(state) is None:
        wrong = too_many(int(glance.typed), by_size(state)[size.key], hands, zone, size.key)
    if glance.width >= WALL[0] and glance.height >= WALL[1]:
        typed = None if glance.asked else Typed(glance.typed, lane, wrong)
        large = large_tiles(zone, name, size, held, hands, typed, glance.width, room)
        if large:
            return large
    if glance.asked:
        return []
    whose = ("", "") if not lane else (f", {lane}", f", {lane.partition(' (')[0]}")
    ones = NAMES[size.key][glance.typed != "1"]
    forms = [f" {ones}{each} → {name}" for each in whose]
    return [typed_number(glance.typed, forms, glance.width, wrong)]
