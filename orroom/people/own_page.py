"""A person's own page: their figures next to the team's, and nobody else's."""

from collections.abc import Iterator, Mapping
from math import ceil
from typing import Final

from orroom.case.terms import CAUTIONS
from orroom.errors import OrroomError
from orroom.figures.wording import NO_DATA, decimal, grafts, percent, several
from orroom.formats.blocks import Block, Caution, Heading, Paragraph, Table
from orroom.formats.chart import Chart, Level, Line, Marks
from orroom.formats.svg import nice_step
from orroom.people.agreement import Pair
from orroom.people.enough import doubled_odds, needed, not_excluded
from orroom.people.running import FALSE_ALARM, Running, running
from orroom.people.team import FEWEST, OfPerson, OfTeam
from orroom.people.wording import (
    CANNOT_SAY,
    READING,
    agreed,
    between,
    paragraph,
    share_of,
    where_in_funnel,
)

FIRST: Final = "This page is for {who} to see first. No other person's share is on it."
#: What is said by where somebody is in the funnel.
FUNNEL: Final = {
    "within": "Chance alone is enough to explain it.",
    "outside": "1 of 20 who work like the team is as far out or further. Look again after more cases.",
    "far outside": "1 of 500 who work like the team is as far out or further: look for the reason.",
}


def own_page(
    who: str, days: tuple[int, str, str], measures: tuple[OfTeam, ...], pairs: Mapping[tuple[str, str], Pair]
) -> list[Block]:
    """The page. Raises ``OrroomError`` if there is nothing about the person."""
    mine = [(team, person) for team in measures if (person := team.of_person(who)) is not None]
    checked = [(names, pair) for names, pair in pairs.items() if who in names]
    if not mine and not checked:
        raise OrroomError(f"There is nothing about {who}.", "orroom people list shows who is in the file.")
    found: list[Block] = [
        Heading(f"{who}: own figures, {days[1]} to {days[2]}" if days[0] else f"{who}: own figures", level=1),
        Caution((FIRST.format(who=who), *CAUTIONS)),
        paragraph(READING),
    ]
    charts = 0
    for team, person in mine:
        if not team.fault:
            chart = running(person.steps, team.share, team.alike) if team.comparable else None
            charts += chart is not None
            kinds = [(kind, own) for kind, own in mine if kind.fault and kind.measure == team.measure]
            found += _measure(team, person, chart)
            found += _faults(kinds)
    if charts > 1:
        found.append(
            paragraph(
                f"This page has {charts} running charts. By chance alone one of them is at its limit about "
                f"once in {FALSE_ALARM // charts} cases."
            )
        )
    if checked:
        found += [
            Heading("Checks of the same grafts by two"),
            *(paragraph(f"{' and '.join(names)}: {agreed(pair)}") for names, pair in checked),
        ]
    return [*found, Heading("What this cannot say"), *map(paragraph, CANNOT_SAY)]


def _measure(team: OfTeam, person: OfPerson, chart: Running | None) -> Iterator[Block]:
    yield Heading(team.measure.capitalize())
    own = f"{share_of(person.count, person.of)}, in {several(len(person.steps), 'case')}"
    none = ""
    if not person.count:
        none = (
            f" 0 of {grafts(person.of)} excludes only shares above {percent(not_excluded(person.worth))}: "
            "grafts of one case are alike."
        )
    if not team.comparable:
        yield paragraph(
            f"{own}; range {between(person.drawn.low, person.drawn.high)}.{none} Fewer than {FEWEST} people "
            "have figures: the team's would be another person's, and are not shown."
        )
        return
    yield Table(
        ("", "counted", "drawn to the team", "range"),
        [
            (
                person.who,
                share_of(person.count, person.of),
                percent(person.drawn.share, 1),
                between(person.drawn.low, person.drawn.high),
            ),
            ("team", share_of(team.count, team.of), NO_DATA, NO_DATA),
        ],
    )
    if none:
        yield paragraph(none.strip())
    where = where_in_funnel(team, person)
    if not where or person.inner is None or person.outer is None:
        yield paragraph(
            "There is nothing to compare with yet: none were found in anybody's work, or all were."
        )
        return
    yield paragraph(
        f"By chance alone, 95 of 100 who work like the team are between {between(*person.inner)} after this "
        f"number of grafts, 998 of 1,000 between {between(*person.outer)}. {FUNNEL[where]}"
    )
    yield paragraph(_enough(team, person))
    if chart is not None:
        yield from _running(team, person, chart)


def _enough(team: OfTeam, person: OfPerson) -> str:
    """How many grafts and cases are needed to notice twice the odds."""
    higher = doubled_odds(team.share)
    of = needed(team.share, higher)
    cases = ceil(of * len(person.steps) / person.worth)
    return (
        f"To notice {percent(higher, 1)} (twice the odds) where the team has {percent(team.share, 1)} takes "
        f"{grafts(of)} independent grafts, which is some {several(cases, 'case')} like {person.who}'s; there "
        f"{'is' if len(person.steps) == 1 else 'are'} {grafts(len(person.steps))}. Before, a difference can "
        "easily be missed."
    )


def _running(team: OfTeam, person: OfPerson, chart: Running) -> Iterator[Block]:
    """The running chart in words, and drawn."""
    if chart.reached:
        cases = ", ".join(map(str, chart.reached))
        now = f"At its limit after case {cases}: look for the reason, and whether checks were made alike."
    else:
        now = f"At {decimal(chart.sums[-1])} of its limit, {decimal(chart.limit)}."
    yield paragraph(
        f"Running chart, case by case, for a rise to twice the team's odds: {now} By chance alone it is at "
        f"its limit once in {chart.between_false:.0f} cases on average, by now with a chance of "
        f"{percent(chart.so_far, 1)}; a real rise takes {chart.to_notice:.0f} cases on average to show."
    )
    last = len(chart.sums)
    step = max(1, round(nice_step(last, 10)))
    yield Chart(
        f"{team.measure.capitalize()}: running chart of {person.who}",
        (0, last),
        (0, max(*chart.sums, chart.limit) * 1.1),
        "cases, in order",
        "sum of what cases say for twice the team's odds",
        [(float(number), str(number)) for number in range(0, last + 1, step)],
        [
            Line([(0.0, 0.0), *enumerate(chart.sums, 1)], "sum"),
            Marks([*enumerate(chart.sums, 1)], "a case"),
            Level(chart.limit, "limit", 2),
        ],
    )


def _faults(kinds: list[tuple[OfTeam, OfPerson]]) -> Iterator[Block]:
    """What was wrong, kind by kind, where there are people enough to compare with."""
    rows = [
        (
            team.fault,
            f"{grafts(person.count)} of {grafts(person.of)}",
            percent(person.drawn.share, 1),
            between(person.drawn.low, person.drawn.high),
            percent(team.share, 1),
        )
        for team, person in kinds
        if team.comparable
    ]
    if rows:
        yield Paragraph("What was wrong:")
        yield Table(("fault", "counted", "drawn", "range", "team"), rows)
    alone = [f"{team.fault} {grafts(person.count)}" for team, person in kinds if not team.comparable]
    if alone:
        yield paragraph(f"What was wrong: {', '.join(alone)}.")
