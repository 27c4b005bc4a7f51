"""The cutting screen: what this technician has cut, by size, read in one look up from the microscope."""

from __future__ import annotations

from orroom.case.state import CaseState, LotClock
from orroom.figures.counts import SizeCount, by_size, done_by
from orroom.figures.holding import lot_ages, oldest_out
from orroom.figures.wording import decimal, grafts, hours_minutes, percent
from orroom.screens.questions import SIZE_KEY
from orroom.screens.views.digits import block_digits
from orroom.screens.views.frame import (
    Glance,
    entry_lines,
    header,
    key_lines,
    message_lines,
    mismatch_lines,
    prompt_lines,
)
from orroom.screens.views.painting import Line, Span, bar, beside, clipped, line, rule

#: From this height on there is room for rules and large digits, as on a full 80×24 terminal.
FULL_HEIGHT = 20


def cutting_lines(state: CaseState, now_ms: int, glance: Glance) -> list[Line]:
    """All lines of the screen, exactly ``glance.height`` of them."""
    full = glance.height >= FULL_HEIGHT
    wide = glance.width >= 70
    above = [header(state, now_ms, glance, _lot_in_header(state, now_ms, glance))]
    above += [rule(glance.width)] if full else []
    above += tiles(state, glance, large=glance.width >= 60 or glance.height >= 16)
    above += [rule(glance.width)] if full else []
    below = mismatch_lines(state, glance.width)
    below += [rule(glance.width)] if full else []
    below += prompt_lines(state, now_ms, glance.width, 2 if full else 1)
    below += [*message_lines(glance, state), *key_lines(glance, 2 if full else 1)]
    rows = max(0, glance.height - len(above) - len(below))
    facts = beside_facts(state, glance)
    side = 34 if wide else 0
    entries = own_entries(state, glance, rows, glance.width - side)
    middle = beside(entries, facts[:rows], glance.width - side, side) if wide else entries
    return [*above, *middle[:rows], *below]


def _lot_in_header(state: CaseState, now_ms: int, glance: Glance) -> str:
    ages = {age.lot: age for age in lot_ages(state, now_ms)}
    mine = ages.get(glance.lot)
    oldest = oldest_out(tuple(ages.values()))
    if mine is None or mine.started_at_ms is None:
        words = f"lot {glance.lot}: harvest not entered (h)"
    else:
        words = f"lot {glance.lot} out {hours_minutes(now_ms - mine.started_at_ms)}"
    if oldest is not None and oldest.lot != glance.lot:
        words += f" · oldest {oldest.lot} {hours_minutes(oldest.out_ms)}"
    return words


def tiles(state: CaseState, glance: Glance, *, large: bool) -> list[Line]:
    """One column a size: its name, this person's count in large digits, the team's, and the share of plan."""
    counts = by_size(state)
    mine = done_by(state.tally, glance.who, "cut")
    width = glance.width // len(counts)
    columns = [_tile(state, glance, size, mine.get(size, 0), counts[size], width, large) for size in counts]
    lines = columns[0]
    for number, column in enumerate(columns[1:], 1):
        lines = beside(lines, column, number * width, width)
    return lines


def _tile(
    state: CaseState, glance: Glance, size: str, mine: int, team: SizeCount, width: int, large: bool
) -> list[Line]:
    cut = f"cut('{size}')"
    label = state.plan.size_by_key[size].label
    name = f" {SIZE_KEY[size]} {label}"
    digits = block_digits(str(mine), width - 2) if large else [str(mine)]
    flashed = glance.flashed == size
    share = f" {bar(team.usable, team.planned, max(3, width - 9))} "
    whole = percent(team.usable / team.planned) if team.planned else "no plan"
    return [
        line(
            Span(f"{clipped(name, width - 5)} +1 ", "cursor", cut)
            if flashed
            else Span(clipped(name, width - 1), "strong", cut)
        ),
        *(line(Span(f" {row:<{width - 1}}", "mine", cut)) for row in digits),
        line(Span(f" team {grafts(team.usable)}", "plain", cut)),
        line(Span(f"{share}{whole}" if width >= 14 else f" {whole}", "dim", cut)),
    ]


def own_entries(state: CaseState, glance: Glance, rows: int, width: int) -> list[Line]:
    """The last entries that this person made, newest first."""
    return entry_lines(state, rows, width, who=glance.who)


def beside_facts(state: CaseState, glance: Glance) -> list[Line]:
    """Lot, segment, what was discarded and divided, the team in all."""
    tally, who = state.tally, glance.who
    clock = tally.lots.get(glance.lot, LotClock())
    segments = state.plan.lot_by_key[glance.lot].segments
    done = len(clock.segments)
    mine = sum(done_by(tally, who, "cut").values())
    spoilt = sum(done_by(tally, who, "discarded cutting").values())
    share = decimal(100 * spoilt / (mine + spoilt)) if mine + spoilt else decimal(None)
    counts = by_size(state).values()
    usable, planned = sum(each.usable for each in counts), sum(each.planned for each in counts)
    segment = f"segment {done + 1} of {segments}" if segments and done < segments else f"{done} segments done"
    facts = [
        line(Span(f"lot {glance.lot}   {segment}", "strong")),
        line(f"{who} cut {grafts(mine)}, spoilt {spoilt} ({share} %)"),
        line(f"divided {sum(done_by(tally, who, 'divided').values())}"),
        line(f"team {grafts(usable)} of {grafts(planned)} planned"),
    ]
    if who in tally.on_break:
        facts.insert(0, line(Span(f"‖ {who} is on a break (b ends it)", "notice", "rest")))
    return facts
