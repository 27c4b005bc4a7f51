"""The overview: cut, placed, in solution, left in large digits; zones, sizes, harvests. It needs no key."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Final, NamedTuple

from msgspec.structs import replace

from orroom.case.final_count import count_running
from orroom.case.state import CaseState
from orroom.case.terms import WORK_NAMES
from orroom.figures.case_times import case_times
from orroom.figures.counts import SizeCount, by_size, total
from orroom.figures.holding import counted_to_ms, harvest_ages, harvests_unknown, oldest_out
from orroom.figures.wording import (
    MISMATCH,
    Times,
    clock_time,
    grafts,
    hours,
    marked,
    over_plan,
    percent,
    which_day,
)
from orroom.screens.stations.views.count_running import count_running_lines
from orroom.screens.stations.views.frame import Glance, below_blocks, header_lines
from orroom.screens.stations.views.overview_side import flow_lines, rest_lines
from orroom.screens.stations.views.overview_zones import zone_lines
from orroom.screens.stations.views.placing import OVER
from orroom.screens.stations.views.prompting import WALL
from orroom.screens.stations.views.zone_picture import zone_picture
from orroom.screens.terminal.digits import APART, ROWS, Scale, block_digits, largest_scale
from orroom.screens.terminal.layout import Block, Rank, rows_of, stacked
from orroom.screens.terminal.painting import (
    Line,
    Span,
    beside,
    first_that_fits,
    line,
    rule,
)

if TYPE_CHECKING:
    from orroom.figures.pace.rest_of_day import Foretold

#: From this height on there is room for rules, from this width on for sizes and harvests next to the zones.
FULL_HEIGHT, ROOM_FOR_SIZES = 20, 70
#: Columns for sizes and harvests on a wall, at least.
SIDE = 60
#: Rows of a large figure besides its digits: its name, and what it is measured against.
AROUND_FIGURE = 2
#: Digits of two rows of figures are at most so high, and so many rows are left below.
HIGH_ENOUGH, BELOW_TWO = 2 * ROWS, 20
#: A narrower screen has no room to say what is placed.
LEAST_SHARE: Final = 40
#: How figures are drawn where columns as wide as each other have no room for digits.
NARROWEST: Final = Scale(3, 1)
#: From these widths on there is room for more large figures.
ROOM_FOR_WAITING, ROOM_FOR_OLDEST = 100, 140


class _Frame(NamedTuple):
    """What is above and below the middle of each page, and how many rows are left between."""

    above: list[Block]
    below: list[Block]
    rows: int


class Book(NamedTuple):
    """The pages of zones, sizes, harvests and forecasts; the figures are on all of them."""

    frame: _Frame
    pages: list[list[Line]]


def overview_book(state: CaseState, now_ms: int, glance: Glance) -> Book:
    """As many pages as it takes."""
    frame = _frame(state, now_ms, glance, 1)
    pages = _pages(state, now_ms, glance, frame.rows)
    if len(pages) > 1:  # a button that turns them takes room of its own
        frame = _frame(state, now_ms, glance, 2)
        pages = _pages(state, now_ms, glance, frame.rows)
    return Book(frame, pages)


def overview_lines(state: CaseState, now_ms: int, glance: Glance, book: Book | None = None) -> list[Line]:
    """The lines of the page ``glance.page``, exactly ``glance.height`` of them; of a ``book`` if known."""
    if count_running(state) is not None:
        return count_running_lines(state, now_ms, glance)
    frame, pages = book or overview_book(state, now_ms, glance)
    count, rows = len(pages), frame.rows
    if count > 1:  # the button says which page it is
        frame = _frame(state, now_ms, glance, count)
        pages = pages if frame.rows == rows else _pages(state, now_ms, glance, frame.rows)
    page = pages[min(glance.page % count, len(pages) - 1)]
    return stacked(frame.above, lambda _: page, frame.below, glance.height)


def _frame(state: CaseState, now_ms: int, glance: Glance, pages: int) -> _Frame:
    full = glance.height >= FULL_HEIGHT
    turn = [Span(f" → page {glance.page % pages + 1}/{pages} ", "button", "press('right')")]
    keys, mismatches = (2, 2) if full else (1, 1)
    below = [
        replace(block, lines=[each for each in block.lines if _says(each)])
        for block in below_blocks(state, now_ms, glance, keys, mismatches, turn if pages > 1 else ())
    ]
    head = Block(header_lines(state, now_ms, glance), Rank.HEADER)
    room = glance.height - rows_of([head, *below]) - AROUND_FIGURE
    above = [
        head,
        Block(_large_figures(state, now_ms, glance, room), Rank.FIGURES),
        Block([rule(glance.width)] if full else [], Rank.RULE),
    ]
    return _Frame(above, below, glance.height - sum(len(each.lines) for each in [*above, *below]))


def _pages(state: CaseState, now_ms: int, glance: Glance, rows: int) -> list[list[Line]]:
    """Zones, and next to them sizes, harvests and what is forecast where there is room, page by page.

    The shorter of the two columns begins again where it has ended. A narrow screen has zones first, then the
    rest. With no row at all there is one empty page.
    """
    width = glance.width
    left = width * 11 // 20 if width >= ROOM_FOR_SIZES else width
    if width >= WALL[0]:  # so that a harvest's line keeps all its words
        left = min(left, width - SIDE)
    zones = _chunks(zone_lines(state, rows, left), rows)
    beside_zones = width - left if left < width else width
    lines = rest_lines(state, now_ms, glance, beside_zones)
    flow = flow_lines(state, now_ms, glance, beside_zones)
    if len(flow) <= -len(lines) % max(1, rows):  # where there is room on the last page
        lines += flow
    if width >= WALL[0] and (picture := zone_picture(state, rows - len(lines) - 1, beside_zones)):
        lines += [(), *picture]
    rest = _chunks(lines, rows)
    if left == width:
        return [*zones, *rest] if rows else [[]]
    count = max(len(zones), len(rest))
    return [
        beside((zones[page % len(zones)], left), (rest[page % len(rest)], width - left))
        for page in range(count)
    ]


def _chunks(lines: list[Line], rows: int) -> list[list[Line]]:
    return [lines[first : first + rows] for first in range(0, len(lines), rows)] if rows > 0 else [[]]


def _says(painted: Line) -> bool:
    """Whether a line is not empty; a row of a band that can be touched is not, though it has no words."""
    return any(span.text.strip() or span.action for span in painted)


def _large_figures(state: CaseState, now_ms: int, glance: Glance, room: int) -> list[Line]:
    """Each figure, in at most ``room`` rows, with its name above and what it is measured against below."""
    on_a_wall = glance.width >= WALL[0] and glance.height >= WALL[1]
    counts = total(by_size(state))
    planned, waiting = grafts(counts.planned), grafts(counts.waiting)
    wrong, waits = f" {MISMATCH}" * bool(counts.short), marked(counts.waiting, counts.short)
    figures: list[_Figure] = [
        _Figure(
            (f"USABLE{wrong}",),
            grafts(counts.usable),
            (f"of {planned} planned", f"of {planned}", f"/{planned}"),
        ),
        _Figure(("PLACED",), grafts(counts.placed), (f"{waits} waiting", f"{waits} wait", f"+{waits}")),
        _Figure(("LEFT TO PLACE", "LEFT"), grafts(counts.owed), _share(counts, glance.width)),
        _finish(state, now_ms, glance.foretold),
    ]
    if glance.width >= ROOM_FOR_OLDEST or on_a_wall:
        figures.insert(3, _oldest(state, now_ms))
    if glance.width >= ROOM_FOR_WAITING:
        dish = marked(counts.dish, counts.dish_short)
        with_placers = f"{marked(counts.with_placers, counts.with_placers_short)} with the placers"
        figures[1] = _Figure(("PLACED",), grafts(counts.placed), (f"of {planned} planned",))
        where = (f"{dish} in dishes, {with_placers}", with_placers)
        names = (f"WAITING TO BE PLACED{wrong}", f"WAITING{wrong}")
        figures.insert(2, _Figure(names, waiting, where))
    rows, columns = min((glance.height - 14) // 2, room), len(figures)
    plain = [each.value.replace(",", "").replace(" ", "") for each in figures]
    scale = largest_scale(plain, glance.width // columns - 1, rows)
    half = -(-columns // 2)
    rows_of_two = min(
        HIGH_ENOUGH, (glance.height - BELOW_TWO) // 2 - AROUND_FIGURE, (room - AROUND_FIGURE) // 2
    )
    if rows_of_two >= ROWS:  # broad digits below each other are read from further away than narrow ones
        two = largest_scale(plain, glance.width // half - 1, rows_of_two)
        if (two.times, two.width) > (scale.times, scale.width):
            rows, columns, scale = rows_of_two, half, two
    drawn = [block_digits(each, scale) if rows >= ROWS and scale.width else [] for each in plain]
    narrow = [block_digits(each, NARROWEST) for each in plain]
    if rows >= ROWS and not scale.width and _least_width(figures, narrow) <= glance.width:
        drawn = narrow
    figures, wide = _laid_out(figures, drawn, columns, glance.width)
    lines: list[Line] = []
    for first in range(0, len(figures), columns):
        lines += _band(figures[first : first + columns], drawn[first : first + columns], wide)
    return lines


def _band(figures: Sequence[_Figure], drawn: Sequence[Sequence[str]], wide: Sequence[int]) -> list[Line]:
    """Figures next to each other in columns so ``wide``, in large digits where they are ``drawn``."""
    blocks: list[tuple[list[Line], int]] = []
    for each, digits, column in zip(figures, drawn, wide, strict=False):  # a last band may have fewer
        block = [line(Span(f" {first_that_fits(each.names, column - 2)}", "strong"))]
        block += [line(Span(f" {row}", "mine")) for row in digits or [each.value]]
        block += [line(Span(f" {first_that_fits(each.against, column - 2)}"))]
        blocks.append((block, column))
    return beside(*blocks)


def _laid_out(
    figures: Sequence[_Figure], drawn: Sequence[Sequence[str]], columns: int, width: int
) -> tuple[list[_Figure], list[int]]:
    """The figures in the words that there is room for, and how wide the columns of all bands are.

    All are as wide as each other where each has room for all of its words, else as wide as they need; where
    there is no room even so, the widest figures give way first.
    """
    shorter, equal = list(figures), [width // columns] * columns
    while True:
        widths = [_width(*each) for each in zip(shorter, drawn, strict=True)]
        needed = [max(widths[column::columns]) for column in range(columns)]
        if max(needed) <= equal[0]:
            return shorter, equal
        if sum(needed) <= width:
            return shorter, [each + (width - sum(needed)) // columns for each in needed]
        places = [place for place, each in enumerate(shorter) if len(each.names) + len(each.against) > 2]
        if not places:
            return shorter, equal
        widest = max(places, key=lambda place: widths[place])
        shorter[widest] = shorter[widest].shorter()


def _least_width(figures: Sequence[_Figure], drawn: Sequence[Sequence[str]]) -> int:
    """The columns that figures take in the fewest words."""
    return sum(
        _width(_Figure(each.names[-1:], each.value, each.against[-1:]), digits)
        for each, digits in zip(figures, drawn, strict=True)
    )


def _width(figure: _Figure, drawn: Sequence[str]) -> int:
    """The columns of a figure in its fullest words, and the space to the next."""
    digits = len(drawn[0]) + APART if drawn else len(figure.value) + 2
    return max(digits, len(figure.names[0]) + 2, len(figure.against[0]) + 2)


class _Figure(NamedTuple):
    """A large figure: its name above, what it is measured against below, each also in fewer words."""

    names: tuple[str, ...]
    value: str
    against: tuple[str, ...]

    def shorter(self) -> _Figure:
        """With fewer words in the longer of its two lines, if it has any."""
        names, against = self.names, self.against
        if len(names) > 1 and (len(against) == 1 or len(names[0]) > len(against[0])):
            return self._replace(names=names[1:])
        return self._replace(against=against[1:])


def _share(counts: SizeCount, width: int) -> tuple[str, ...]:
    """How much of the plan is placed, and what is over it: without that the figures do not add up."""
    if not counts.planned:
        return ("no plan", "—")
    share = percent(1 - counts.owed / counts.planned)
    placed = f"{share} placed"
    over = counts.owed - (counts.planned - counts.placed)
    if not over:
        return (placed, share) if width < LEAST_SHARE else (placed,)
    return (
        f"{placed}: {grafts(counts.planned)} − {grafts(counts.placed)} + {grafts(over)} over",
        f"{placed}{over_plan(over)}",
        f"{placed}, {grafts(over)} over",
        f"{placed} {OVER}{grafts(over)}",
        f"{grafts(over)} over",
    )


def _oldest(state: CaseState, now_ms: int) -> _Figure:
    """How long the oldest has been out, and of which harvest; for which harvests that is not known."""
    ages = harvest_ages(state, now_ms)
    oldest, unknown = oldest_out(ages), harvests_unknown(ages)
    if oldest is None:
        if unknown is None:
            return _Figure(("OLDEST OUT",), "—", ("nothing waits",))
        why = (f"not known: {unknown.why}", f"not known: {unknown.brief}", "not known")
        return _Figure(("OLDEST OUT",), "—", why)
    found: tuple[str, ...] = (f"harvest {oldest.harvest}",)
    if counted_to_ms(state, now_ms) < now_ms:
        found = ("at the last entry", "last entry")
    if unknown:
        others = ", ".join(unknown.harvests)
        found = (f"harvest {oldest.harvest}; {others} not known", f"{oldest.harvest}; {others} not known")
    return _Figure(("OLDEST OUT",), hours(oldest.out_ms or 0), found)


def _finish(state: CaseState, now_ms: int, known: Foretold | None) -> _Figure:
    """When all will be done, and between which times; or why it is unknown, or that nobody places."""
    if known is None:
        return _Figure(("FINISH",), "—", ("calculating", "wait …"))
    times, found = case_times(state), known.outlook
    none_for_ms = found.nobody_placing_ms(now_ms)
    stopped = ("NOBODY PLACING FOR", "NOBODY PLACING", "NONE PLACING")
    if found.finish is not None:
        bare, on = Times(times.offset_minutes), which_day(found.finish.middle_ms, times)
        low, middle, high, later = (
            clock_time(each, bare if which_day(each, times) == on else times) for each in found.finish
        )
        between = (
            f"{low} to {high} at this pace, to {later} if it slows",
            f"{low} to {high}, to {later} if it slows",
            f"{low} to {high} at this pace",
            f"{low} to {high}",
            f"{low}–{high}",
            f"to {high}",
        )
        if none_for_ms is not None:
            resumed = f"{middle} if resumed now"
            then = (f"expected finish {resumed}", f"finish {resumed}", resumed, f"if now, {middle}")
            return _Figure(stopped, hours(none_for_ms), then)
        day = on.strip().upper()
        names = (f"EXPECTED FINISH {day}", f"FINISH {day}", day) if day else ("EXPECTED FINISH", "FINISH")
        return _Figure(names, middle, between)
    if none_for_ms is not None:
        return _Figure(stopped, hours(none_for_ms), ("finish not known", "no finish"))
    waited = [each for each in found.works if each.left and each.finish is None]
    if not waited:
        done = not any(each.left for each in found.works)
        why = ("all is done", "done") if done else ("over a day away", "too far", "far")
    elif waited[0].pace.done:
        why = ("not enough data", "too early", "early")
    else:
        why = (f"no {WORK_NAMES[waited[0].work]} yet", "none yet", "none")
    return _Figure(("FINISH",), "—", why)
