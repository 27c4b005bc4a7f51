"""The page for a meeting: the team, and people under letters that say nothing."""

from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from itertools import count, islice, product
from string import ascii_uppercase
from typing import Final

from orroom.case.terms import CAUTIONS
from orroom.figures.wording import decimal, grafts, percent, several
from orroom.formats.blocks import Block, Caution, Heading, Paragraph, Table
from orroom.formats.chart import Chart, Level, Line, Marks
from orroom.formats.svg import nice_step
from orroom.people import funnel
from orroom.people.agreement import Pair
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

#: Of fewer people letters would be guessed. Common practice, no source.
FEWEST_LETTERS: Final = 5
LETTERS: Final = (
    "Letters are drawn by chance, for each measure and each page again: A is somebody else in the next "
    "table, and the order of letters says nothing. Do not try to find out who is who."
)
#: Puts a list into an order that says nothing, in place.
Shuffle = Callable[[list[OfPerson]], None]


def meeting_page(
    days: tuple[int, str, str],
    measures: Sequence[OfTeam],
    seen: Collection[str],
    pairs: Mapping[tuple[str, str], Pair],
    shuffle: Shuffle,
) -> list[Block]:
    """The page, of those who have ``seen`` their own page with all of their cases."""
    people = {each.who for team in measures for each in team.people}
    unseen = len(people - set(seen))
    found: list[Block] = [
        Heading(f"The team's figures, {days[1]} to {days[2]}" if days[0] else "The team's figures", level=1),
        Caution(CAUTIONS),
        paragraph(LETTERS),
        paragraph(READING),
    ]
    if unseen:
        found.append(
            paragraph(
                f"{several(unseen, 'person is', 'people are')} in the team's figures and under no letter: "
                "the own page is seen first (orroom people show)."
            )
        )
    for team in measures:
        if not team.fault:
            found.append(Heading(team.measure.capitalize()))
            found += _measure(team, seen, people, shuffle)
            found += _faults([each for each in measures if each.fault and each.measure == team.measure])
    if pairs:
        found.append(Heading("Checks of the same grafts by two"))
        found += map(paragraph, sorted(f"Two checkers: {agreed(pair)}" for pair in pairs.values()))
    return [*found, Heading("What this cannot say"), *map(paragraph, CANNOT_SAY)]


def _measure(
    team: OfTeam, seen: Collection[str], people: Collection[str], shuffle: Shuffle
) -> Iterator[Block]:
    if not team.comparable:
        yield paragraph(f"Fewer than {FEWEST} people have figures: these are for their own pages.")
        return
    yield Paragraph(
        f"Team: {share_of(team.count, team.of)}, {several(len(team.people), 'person', 'people')}."
    )
    shown = [each for each in team.people if each.who in seen]
    if len(shown) < FEWEST_LETTERS:
        yield paragraph(f"Letters are shown from {FEWEST_LETTERS} people on: of fewer they would be guessed.")
        return
    shuffle(shown)
    lettered = list(zip(_letters(len(shown), people), shown, strict=True))
    yield Table(
        ("letter", "counted", "drawn", "range", "by chance", "which is"),
        [
            (
                letter,
                percent(each.share, 1),
                percent(each.drawn.share, 1),
                between(each.drawn.low, each.drawn.high),
                between(*each.inner) if each.inner else "",
                where_in_funnel(team, each),
            )
            for letter, each in lettered
        ],
    )
    outside = sum(where_in_funnel(team, each).endswith("outside") for each in shown)
    yield paragraph(
        "By chance: where 95 of 100 are who work like the team and had the same number of grafts looked at. "
        f"{several(outside, 'person is', 'people are')} outside; if all worked alike, about "
        f"{decimal(len(shown) * (1 - funnel.INNER))} would be. Far outside: beyond 998 of 1,000."
    )
    if 0 < team.share < 1:
        yield _funnel(team, lettered)


def _letters(number: int, people: Collection[str]) -> list[str]:
    """Letters, none of which is somebody's initials."""
    names = ("".join(each) for length in count(1) for each in product(ascii_uppercase, repeat=length))
    return list(islice((each for each in names if each not in people), number))


def _funnel(team: OfTeam, lettered: Sequence[tuple[str, OfPerson]]) -> Chart:
    """Each letter by how many independent grafts its count is worth, between the limits."""
    most = max(each.worth for _, each in lettered) * 1.1
    points = [(each.worth, each.share * 100) for _, each in lettered]
    far = funnel.limits(team.share, most / 6, funnel.OUTER)[1]
    top = max(100 * far, *(share for _, share in points)) * 1.1
    lines = [
        Line(_edge(team.share, most, level, end, top), name, ink)
        for level, ink, label in ((funnel.INNER, 1, "95 of 100"), (funnel.OUTER, 2, "998 of 1,000"))
        for end, name in ((1, label), (0, ""))
    ]
    step = nice_step(most, 6)
    return Chart(
        f"{team.measure.capitalize()}: the funnel",
        (0, most),
        (0, top),
        "grafts, counted as independent ones",
        "%",
        [(step * number, grafts(round(step * number))) for number in range(int(most / step) + 1)],
        [
            *lines,
            Level(team.share * 100, "team"),
            Marks(points, "a person", words=[letter for letter, _ in lettered]),
        ],
    )


def _edge(share: float, most: float, level: float, end: int, top: float) -> list[tuple[float, float]]:
    """One limit, by how many grafts there are, as far as it is on the chart."""
    at = [most * place / 80 for place in range(2, 81)]
    points = [(of, 100 * funnel.limits(share, of, level)[end]) for of in at]
    return [each for each in points if each[1] <= top]


def _faults(kinds: Sequence[OfTeam]) -> Iterator[Block]:
    """What was wrong in the whole team's work."""
    rows = [
        (each.fault, f"{grafts(each.count)} of {grafts(each.of)}", percent(each.share, 1))
        for each in kinds
        if each.comparable
    ]
    if rows:
        yield Paragraph("What was wrong, of all together:")
        yield Table(("fault", "counted", "share"), rows)
