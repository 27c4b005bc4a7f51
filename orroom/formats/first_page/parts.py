"""The parts of the first page in words and tables: sizes, time out of the body, final count, people."""

from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence
from typing import Final

from msgspec import Struct

from orroom.figures.wording import grafts, hours_minutes, several
from orroom.formats.blocks import Strong, Table, Words
from orroom.formats.first_page.looks import capital
from orroom.formats.sections.wording import beyond_limit, clock, half_out, longest_out
from orroom.summary.summary import Summary

#: So many people fit; the rest is counted.
MOST_PEOPLE: Final = 10
#: A cell of a table where there is nothing.
NOTHING: Final = "·"


class Part(Struct, frozen=True):
    """A part with a heading, what is said at the end of that line, and paragraphs."""

    title: str
    aside: str = ""
    paragraphs: Sequence[Words] = ()
    table: Table | None = None


def with_role(who: str, role: str | None) -> str:
    """Somebody with their role, where that says more than the initials: ``AB (cutting)``."""
    return who if role in {None, who} else f"{who} ({role})"


def sizes(summary: Summary) -> Part:
    """A row for each thing that was counted of each size; the rows add up from top to bottom."""
    rows: list[list[Words]] = []

    def row(words: str, counts: Sequence[int], *, strong: bool = False, signed: bool = False) -> None:
        cells = [_cell(each, signed=signed) for each in (*counts, sum(counts))]
        made: list[Words] = [words, *cells]
        rows.append([Strong(each) for each in (words, *cells)] if strong else made)

    row("planned", [each.planned for each in summary.sizes])
    row("cut in all", [each.cut_in_all for each in summary.sizes])
    for words, changes in (
        ("divided", [each.divided_in - each.divided_out for each in summary.sizes]),
        ("discarded", [-each.discarded for each in summary.sizes]),
        ("hand count", [-each.not_found for each in summary.sizes]),
    ):
        if any(changes):
            row(words, changes, signed=True)
    row("placed", [each.placed for each in summary.sizes], strong=True)
    waiting = [each.dish + each.with_placers for each in summary.sizes]
    if any(waiting):
        row("waiting", waiting)
    if any(each.left_at_end for each in summary.sizes):
        row("left at the end", [each.left_at_end for each in summary.sizes])
    header = ["hairs", *("multi" if each.size == "M" else each.size for each in summary.sizes), "all"]
    said = "Cut, divided and hand count, less discarded, add up to what is placed, waiting or left."
    if not summary.adds_up:
        said = "Does not add up: see what needs a look."
    return Part("Sizes", "grafts", [said if summary.adds_up else Strong(said)], Table(header, rows))


def _cell(count: int, *, signed: bool = False) -> str:
    if not count:
        return NOTHING
    return f"{'+' if signed and count > 0 else ''}{grafts(count)}"


def out(summary: Summary) -> Part:
    """Times out of the body by harvest."""
    limit = summary.out_of_body_limit_ms
    aside = "no limit set" if limit is None else f"limit {hours_minutes(limit)}"
    shown = [each for each in summary.out_of_body if each.placed_high]
    if not shown:
        return Part("Time out of the body", aside, ["No graft is placed whose time out is known."])
    header = ["harvest", "half placed by", "longest", *(["beyond limit"] if limit else [])]
    rows: list[list[Words]] = []
    for each in shown:
        cells: list[Words] = [
            each.label,
            half_out(each),
            longest_out(each),
        ]
        if limit:
            cells.append(Strong(beyond_limit(each)))
        rows.append(cells)
    return Part("Time out of the body", aside, (), Table(header, rows))


def beyond_by_size(summary: Summary) -> str:
    """The share of each size beyond the surgeon's limit of time out of the body, where any may be."""
    shares = [
        f"{each.size} {beyond_limit(each)}" for each in summary.out_of_body_sizes if each.over_limit_high
    ]
    return f"Beyond the limit, by size: {', '.join(shares)}." if shares else ""


def count(summary: Summary) -> Part:
    """How the final count ended, and what became of what was left."""
    whole = summary.in_all
    left = f"{grafts(_waiting(summary) + whole.left_at_end)} left by the record"
    return Part(
        "Final count and what was left",
        left if whole.cut_in_all else "",
        [*_counted(summary), *_fates(summary)],
    )


def _counted(summary: Summary) -> Iterator[Words]:
    count = summary.final_count
    if count is None:
        if holding := [each for each in summary.counts_made if each.holds]:
            alone = f"Counted by {holding[0].who} alone: {grafts(holding[0].grafts)}."
            yield f"{alone} The second count is missing."
        elif summary.counts_made:
            yield "No valid count: grafts moved after the last one."
        else:
            yield "Not counted yet." if summary.signed_off is None else "Not counted by two people."
        return
    first, second = (sum(found) for found in _found(summary))
    by = f"Counted by {count.first_by} ({clock(summary, count.first_at)}) and {count.second_by} "
    by += f"({clock(summary, count.second_at)}), each without seeing the other's count"
    if not count.differences:
        yield f"{by}: {grafts(first)}, as the record says."
        return
    yield (
        f"{by}: {grafts(first)} and {grafts(second)}. ",
        Strong(several(count.differences, "difference")),
        ".",
    )
    for each in summary.counted:
        if not each.agrees:
            yield (
                f"{capital(each.label)}, harvest {each.harvest}, {each.place}: {grafts(each.first)} and "
                f"{grafts(each.second)} counted, {grafts(each.tally)} by the record."
            )


def _found(summary: Summary) -> tuple[list[int], list[int]]:
    return [each.first or 0 for each in summary.counted], [each.second or 0 for each in summary.counted]


def _fates(summary: Summary) -> Iterator[Words]:
    zones = {each.zone: each.label for each in summary.zones}
    fates: Counter[tuple[str, str, str]] = Counter()
    for each in summary.fates:
        fates[each.fate, zones.get(each.into_zone or "", ""), each.reason or ""] += each.grafts
    for (fate, zone, reason), count in fates.items():
        into = f", {zone}" if zone else ""
        yield f"{several(count, 'graft')} {fate}{into}{f': {reason}' if reason else ''}."
    waiting = _waiting(summary)
    if waiting and (summary.signed_off is not None or not summary.in_all.owed):
        yield (Strong(f"{several(waiting, 'graft')} left without a fate"), " in the record.")


def _waiting(summary: Summary) -> int:
    """Grafts in dishes and with the placers; what was taken beyond the tally takes none of them away."""
    return sum(max(0, each.dish) + max(0, each.with_placers) for each in summary.accounts)


def people(summary: Summary) -> Part:
    """What each person cut, whose sites and placings there are, and what each discarded."""
    made: defaultdict[str, int] = defaultdict(int)
    placed: defaultdict[str, int] = defaultdict(int)
    for hands in summary.zone_hands:
        made[hands.who] += hands.sites_made
        placed[hands.who] += hands.placed
    order = ("surgeon", "cutting", "placing")
    ranked = sorted(
        summary.people,
        key=lambda each: (order.index(each.role) if each.role in order else len(order), each.who),
    )
    busy = [
        each
        for each in ranked
        if each.cut_spoilt_left_out or made[each.who] or placed[each.who] or each.discarded
    ]
    others = [each.who for each in ranked if each not in busy]
    rows: list[list[Words]] = [
        [
            with_role(each.who, each.role or "not in the plan"),
            _cell(sum(each.cut_spoilt_left_out.values())),
            _cell(made[each.who]),
            _cell(placed[each.who]),
            _cell(sum(each.discarded.values())),
        ]
        for each in busy[:MOST_PEOPLE]
    ]
    said: list[Words] = []
    if len(busy) > MOST_PEOPLE:
        said.append(f"And {len(busy) - MOST_PEOPLE} more in the table of people.")
    if others:
        said.append(f"No grafts or sites of their own: {', '.join(others)}.")
    table = Table(["who", "cut", "sites", "placed", "discarded"], rows) if rows else None
    return Part("People", "grafts, sites; cut: spoilt left out", said, table)
