"""The cutting screen: what this technician has cut, by size, read in one look up from the microscope."""

from collections.abc import Mapping
from functools import lru_cache

from msgspec import Struct

from orroom.case.final_count import count_running
from orroom.case.state import CaseState, HarvestClock
from orroom.figures.counts import SizeCount, by_size, done_by, total
from orroom.figures.holding import counted_to_ms, harvest_ages, oldest_out
from orroom.figures.next_zone import NAMES, wanted_next
from orroom.figures.wording import grafts, how_long, marked, over_plan, percent, segments_done, several
from orroom.screens.stations.views.count_running import count_running_lines
from orroom.screens.stations.views.frame import (
    Glance,
    below_blocks,
    header_lines,
    hidden_lines,
)
from orroom.screens.stations.views.last_entries import entry_lines
from orroom.screens.stations.views.placing import OVER
from orroom.screens.terminal.digits import ROWS, block_digits, largest_scale
from orroom.screens.terminal.keys import shown_key
from orroom.screens.terminal.layout import Block, Rank, rows_of, stacked
from orroom.screens.terminal.painting import (
    Line,
    Span,
    bar,
    beside,
    clipped,
    first_that_fits,
    line,
    rule,
    width_of,
)
from orroom.words.flow import wanted_line

#: From this height on there is room for rules and large digits, as on a full 80×24 terminal.
FULL_HEIGHT = 20
#: From this width on there is room for facts next to the entries, so wide at least, and so far from them.
ROOM_FOR_FACTS, FACTS, FROM_FACTS = 70, 32, 2
#: Rows of a tile besides its figure: key and name, the team's count, the plan's share.
AROUND_FIGURE = 3
#: This many of the last entries are shown, or it is said that they are not.
LEAST_ENTRIES = 1
#: In place of a number of spoilt grafts: that nobody entered one does not mean that there was none.
NOT_ENTERED = ", spoilt not entered"
#: What is below each other in tiles that have no room to say it.
LEGEND = " your count, the team's, its % of plan"
#: From this width on a column says whose count it is.
ROOM_FOR_NAMES = 12


def cutting_lines(state: CaseState, now_ms: int, glance: Glance) -> list[Line]:
    """All lines of the screen, exactly ``glance.height`` of them."""
    if count_running(state) is not None:
        return count_running_lines(state, now_ms, glance)
    full = glance.height >= FULL_HEIGHT
    across = [Block([rule(glance.width)], Rank.RULE)] if full else []
    mismatches, *below = below_blocks(state, now_ms, glance, 2 if full else 1)
    wanted = Block(_wanted(state, now_ms, glance), Rank.HIDDEN)
    below = [wanted, mismatches, *across, *below]
    head = Block(header_lines(state, now_ms, glance, *_harvest_in_header(state, now_ms, glance)), Rank.HEADER)
    counts = by_size(state)
    facts = beside_facts(state, glance, counts) if glance.width >= ROOM_FOR_FACTS else []
    most = (glance.height - 14) // 2 if full else glance.height - 10
    room = glance.height - rows_of([head, *below]) - AROUND_FIGURE
    drawn = tiles(state, glance, counts, max(1, min(most, room))) if full or not glance.asked else []
    figures = Block(drawn, Rank.FIGURES)
    spare = glance.height - sum(len(each.lines) for each in [head, *across, figures, *across, *below])
    if not facts or spare < len(facts):
        entries_too = spare < LEAST_ENTRIES + 1
        hidden = hidden_lines(glance, ["segment, team", *["last entries"] * entries_too])
        below = [Block(hidden, Rank.HIDDEN), *below]

    def entries(rows: int) -> list[Line]:
        """The person's last entries, and next to them what else counts where there is room."""
        if not facts:
            column = glance.width // len(counts)
            named = column >= ROOM_FOR_NAMES or not drawn or rows <= LEAST_ENTRIES
            legend = [] if named else [line(Span(clipped(LEGEND, glance.width), "dim"))]
            return [*legend, *own_entries(state, glance, rows - len(legend), glance.width)]
        wide = max(FACTS, *(width_of(each) + 1 for each in facts))  # nothing touches the edge
        left = glance.width - wide
        return beside((own_entries(state, glance, rows, left - FROM_FACTS), left), (facts[:rows], wide))

    return stacked([head, *across, figures, *across], entries, below, glance.height)


def _harvest_in_header(state: CaseState, now_ms: int, glance: Glance) -> tuple[str, ...]:
    """How long this person's harvest has been out, and the oldest one; then the same in fewer words."""
    ages = {age.harvest: age for age in harvest_ages(state, now_ms)}
    mine = ages.get(glance.harvest)
    oldest = oldest_out(tuple(ages.values()))
    if mine is None or mine.started_at_ms is None:
        key = glance.keys.shown("cutting", "harvest")
        found = [
            f"harvest {glance.harvest}: start not entered ({key})",
            f"harvest {glance.harvest}: no start ({key})",
            f"harvest {glance.harvest}: no start",
            f"no start ({key})",
        ]
    elif mine.since_ms is None:
        found = [
            f"harvest {glance.harvest} starts after its grafts",
            f"harvest {glance.harvest}: time out not known",
        ]
    else:
        out = how_long(max(0, counted_to_ms(state, now_ms) - mine.since_ms))
        found = [f"harvest {glance.harvest} out {out}", f"harvest {glance.harvest} {out}"]
    if oldest is None or oldest.harvest == glance.harvest:
        return (*found, f"harvest {glance.harvest}")
    out = how_long(oldest.out_ms)
    return (
        *(f"{each} · oldest harvest {oldest.harvest} {out}" for each in found),
        f"oldest harvest {oldest.harvest} {out}",
        f"harvest {oldest.harvest} {out}",
    )


def _wanted(state: CaseState, now_ms: int, glance: Glance) -> list[Line]:
    """Which size runs out first, or else which to cut next; nothing while enough of every size waits."""
    width = glance.width
    if glance.foretold is not None and (said := wanted_line(glance.foretold.flow, now_ms)):
        return [line(Span(first_that_fits([f" {each}" for each in said], width), "dim"))]
    if (found := wanted_next(state)) is None:
        return []
    zone, size = state.plan.zone_by_key[found.zone].label, NAMES[found.size][1]
    lack = f"{grafts(found.lack)} more {NAMES[found.size][found.lack != 1]} for {zone}"
    texts = [
        f" cut next: {lack} ({grafts(found.owed)} owed, {grafts(found.owed - found.lack)} wait)",
        f" cut next: {lack}",
        f" cut next: {size}",
    ]
    return [line(Span(first_that_fits(texts, width), "dim"))]


def tiles(state: CaseState, glance: Glance, counts: Mapping[str, SizeCount], rows: int) -> list[Line]:
    """One column a size: its name, this person's count up to ``rows`` rows high, the team's, the plan's."""
    mine = done_by(state.tally, glance.who, "cut")
    width = glance.width // len(counts)
    figures = {size: str(mine.get(size, 0)) for size in counts}
    scale = largest_scale(list(figures.values()), width - 1, rows)
    forms = zip(*map(_of_plan, counts.values()), strict=True)
    alike = [each for each in forms if max(map(len, each)) <= width - 2]  # one form on all tiles
    teams = alike[0] if alike else [_of_plan(count)[-1] for count in counts.values()]
    shown, columns = glance.keys.of_sizes(), []
    for (size, count), team in zip(counts.items(), teams, strict=True):
        digits = tuple(block_digits(figures[size], scale)) if rows >= ROWS else (figures[size],)
        label, key = NAMES[size][1], shown_key(shown[size])
        flashed = glance.flashed == size
        key = "" if glance.asked else key
        tile = _Tile(size, key, label, digits, team, count.usable, count.planned, flashed, width)
        columns.append((_painted(tile), width))
    return beside(*columns)


class _Tile(Struct, frozen=True):
    """All that a tile shows: key and name, this person's figure, the team's grafts, the plan's, how wide.

    It has no ``key`` while something is asked: a digit is an answer then.
    """

    size: str
    key: str
    label: str
    digits: tuple[str, ...]
    team: str
    usable: int
    planned: int
    flashed: bool
    width: int


@lru_cache(64)  # a tap changes one of them
def _painted(tile: _Tile) -> tuple[Line, ...]:
    """The lines of a tile; a click next to the words is a click on it too."""
    width, cut = tile.width, f"cut('{tile.size}')"
    room = width - 4
    if tile.flashed and width < ROOM_FOR_NAMES:
        name = Span(" +1 ", "cursor", cut)
    elif tile.flashed:
        name = Span(f" {clipped(tile.label, room - 4)} +1 ", "cursor", cut)
    else:
        label = f" {clipped(tile.label, room - 1)}" if width >= ROOM_FOR_NAMES else ""
        name = Span(label, "strong" if tile.key else "dim", cut)
    share = percent(tile.usable / tile.planned) if tile.planned else "no plan"
    filled = f" {bar(tile.usable, tile.planned, width - 9)} {share}" if width >= 14 else f" {share}"
    lines = [
        line(Span(f" {tile.key:1} ", "button" if tile.key else "dim", cut), name),
        *(line(Span(f" {row:<{width - 1}}", "mine" if tile.key else "dim", cut)) for row in tile.digits),
        line(Span(f" {tile.team}", "plain", cut)),
        line(Span(filled, "dim", cut)),
    ]
    return tuple((*each, Span(" " * (width - width_of(each)), "plain", cut)) for each in lines)


def _of_plan(count: SizeCount) -> tuple[str, ...]:
    """The team's grafts of those planned, and what is over plan; then the same in fewer words."""
    usable, planned, over = marked(count.usable, count.short), count.planned, count.usable - count.planned
    over = max(0, over)
    return (
        f"team {usable} of {grafts(planned)}{over_plan(over)}",
        f"team {usable} of {grafts(planned)}" + (f", {grafts(over)} over" if over else ""),
        f"team {usable.replace(' ', '')}/{grafts(planned)}{OVER * bool(over)}",
        f"team {usable}",
        usable,
        usable.replace(" ", ""),
    )


def own_entries(state: CaseState, glance: Glance, rows: int, width: int) -> list[Line]:
    """The last entries that this person made, newest first."""
    return entry_lines(state, rows, width, who=glance.who)


def beside_facts(state: CaseState, glance: Glance, counts: Mapping[str, SizeCount]) -> list[Line]:
    """Harvest, segment, what was discarded and divided, the team in all."""
    tally, who = state.tally, glance.who
    clock = tally.harvests.get(glance.harvest, HarvestClock())
    harvest = state.plan.harvest_by_key.get(glance.harvest)
    segments = segments_done(len(clock.segments), harvest.segments if harvest else None)
    mine = sum(done_by(tally, who, "cut").values())
    spoilt = sum(done_by(tally, who, "discarded cutting").values())
    entered = (
        f" + {grafts(spoilt)} spoilt ({percent(spoilt / (mine + spoilt), 1)})" if spoilt else NOT_ENTERED
    )
    team = total(counts)
    facts = [
        line(Span(f"harvest {glance.harvest}: {segments}", "strong")),
        line(f"you cut {grafts(mine)}{entered}"),
        line(f"you divided {several(sum(done_by(tally, who, 'divided').values()), 'graft')}"),
        line(f"team {marked(team.usable, team.short)} of {grafts(team.planned)} planned"),
    ]
    if who in tally.on_break:
        words = f"‖ you are on a break ({glance.keys.shown(glance.role, 'break')} ends it)"
        facts.insert(0, line(Span(words, "notice", "break")))
    return facts
