"""A card of one role's keys to print: plain text that fits on one A5 page."""

from collections.abc import Iterator, Sequence
from textwrap import wrap

from orroom.case.terms import CAUTIONS

#: What an A5 page upright holds at 12 characters and 6 lines an inch, with margins of 10 mm.
WIDTH, HEIGHT = 60, 45
#: Columns for a key, and for a number as it is on the screen.
_KEY, _NUMBER = 6, 12
_HALF = WIDTH // 2

Row = tuple[str, str]


def key_card(title: str, keys: Sequence[Row], numbers: Sequence[Row]) -> str:
    """The card of a role: its keys and what they do, its numbers and what they mean, the cautions."""
    lines = [f"{title.upper()}: KEYS", *_listed(keys, _KEY), ""]
    lines += ["ON THE SCREEN", *_listed(numbers, _NUMBER), ""]
    lines += wrap(" ".join(CAUTIONS), WIDTH)
    return "".join(f"{each.rstrip()}\n" for each in lines)


def _listed(rows: Sequence[Row], column: int) -> Iterator[str]:
    """Rows of a name and its text; two short ones that follow each other share a line."""
    waiting = ""
    for name, text in rows:
        entry = f"{name:<{column}} {text}"
        short = len(entry) < _HALF
        if waiting and short:
            yield f"{waiting:<{_HALF}}{entry}"
            waiting = ""
            continue
        if waiting:
            yield waiting
        waiting = entry if short else ""
        if not short:
            yield from wrap(entry, WIDTH, subsequent_indent=" " * (column + 1))
    if waiting:
        yield waiting
