"""The settings: pages of rows, the question that is open, the result of the last change."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, NamedTuple

from rich.cells import cell_len

from orroom.errors import OrroomError
from orroom.screens.settings.pages import Page
from orroom.screens.settings.sheet import Row
from orroom.screens.terminal.asking import Question
from orroom.screens.terminal.layout import Block, Rank, stacked
from orroom.screens.terminal.painting import (
    BETWEEN,
    MESSAGE_ROWS,
    Line,
    Span,
    beside_name,
    clipped,
    line,
    one_of,
    padded,
    rule,
    shortened,
    spread,
    wrapped,
    wrapped_buttons,
)
from orroom.screens.terminal.question_lines import QUESTION_ROWS, asked_blocks, question_lines

#: From this height on all pages are named; below it only the one shown, with the ways to the others.
ROOM_FOR_TABS = 16
#: A narrower screen shows keys without their words, where two of them must not be missed.
ROOM_FOR_KEY_WORDS = 40
#: A value of the clinic's own is marked, in words if these columns are left for the value.
OWN, SHORT_OWN, LEAST_VALUE = "  ● set here", " ●", 16
#: On a narrower screen values are in one column only where all of them fit.
ROOM_FOR_COLUMNS = 60
#: Columns for what a row is called, at most; on a narrow screen it takes half of it.
WIDEST_NAME = 36


@dataclass(slots=True)
class Look:
    """How the screen stands: page and row from 0, the question that is open, what was said."""

    page: int = 0
    row: int = 0
    question: Question | None = None
    message: str = ""
    wrong: bool = False
    width: int = 80
    height: int = 24


def settings_lines(found: Sequence[Page], path: str, trouble: OrroomError | None, look: Look) -> list[Line]:
    """All lines of the screen, exactly ``look.height`` of them."""
    width = look.width
    room = max(8, width - len(" SETTINGS ") - 2)
    head = spread(line(Span(" SETTINGS", "strong")), line(Span(clipped(path, room), "dim"), " "), width)
    above = [Block([head], Rank.HEADER)]
    if trouble is None:
        above.append(Block(_tabs(found, look), Rank.TYPED))
    above.append(Block([rule(width)], Rank.RULE))
    page = found[look.page]
    otherwise = _in_full(page, look) if trouble is None else ""
    below = [Block(_message(look, otherwise), Rank.MESSAGE), Block(_keys(trouble, look), Rank.KEYS)]

    def body(rows: int) -> Sequence[Line]:
        return _trouble(trouble, look, rows) if trouble is not None else _rows(page, look, rows)

    return stacked(above, body, below, look.height, least=1)


#: What keys do, and what marks mean.
_HELP: Final = (
    ("↑ ↓", "another row; PgUp and PgDn go eight rows"),
    ("← →", "another page; so do the numbers of the pages"),
    ("Enter", "asks for the row's new value; so does Space"),
    ("Esc", "leaves; changes are saved already"),
    ("▸", "the row that Enter changes"),
    ("●", "set here; all other rows are defaults"),
)
_HELP_IN_TROUBLE: Final = (
    ("↑ ↓", "further up or down"),
    ("p", "renames the file and begins with the defaults"),
    ("Esc", "leaves; the file stays as it is"),
)


def help_blocks(
    found: Sequence[Page], path: str, trouble: OrroomError | None, look: Look
) -> list[Sequence[Line]]:
    """What is asked; what keys do; every row of the page whole, and the file."""
    page, width = found[look.page], look.width
    blocks: list[Sequence[Line]] = [*asked_blocks(look.question, width)] if look.question is not None else []
    later: list[Line] = [(), line(Span(" Once it is answered:", "strong"))] if blocks else []
    for shown, does in _HELP if trouble is None else _HELP_IN_TROUBLE:
        blocks.append([*later, *beside_name(Span(f" {shown:>6}  ", "strong"), does, width)])
        later = []
    if trouble is None:
        blocks.append([(), line(Span(f" Page {look.page + 1}, {page.name}", "strong"))])
        blocks += [
            beside_name(Span(f" {row.name}: ", "mine"), f"{row.value}{' ●' * row.set_here}", width)
            if cell_len(row.name) < width // 2
            else [line(Span(f" {each}", "mine")) for each in wrapped(f"{row.name}: {row.value}", width - 2)]
            for row in page.rows
        ]
    blocks.append([(), *(line(Span(f" {row}", "dim")) for row in wrapped(f"The file: {path}", width - 2))])
    return blocks


def _tabs(found: Sequence[Page], look: Look) -> list[Line]:
    if look.height < ROOM_FOR_TABS:
        where = f" {look.page + 1} {found[look.page].name}, of {len(found)} "
        turn = (Span(" ← ", "button", "press('left')"), Span(" → ", "button", "press('right')"))
        return [line(turn[0], Span(where, "strong"), turn[1])]
    buttons = [
        one_of(f"{n + 1} {page.name}", f"page({n})", here=n == look.page) for n, page in enumerate(found)
    ]
    return wrapped_buttons(buttons, look.width, len(buttons))


def _rows(page: Page, look: Look, room: int) -> list[Line]:
    """The rows around the cursor, and how many there are if they do not all fit."""
    if len(page.rows) <= room:
        return _painted(page, look, 0, len(page.rows))
    shown = max(1, room - 1)
    first = min(max(0, look.row - shown // 2), len(page.rows) - shown)
    return [*_painted(page, look, first, first + shown), _where(first, shown, len(page.rows))]


def _where(first: int, shown: int, all_rows: int) -> Line:
    """Which of all rows are shown, and the ways to the others."""
    buttons = (Span(" ↑ ", "button", "press('up')"), BETWEEN, Span(" ↓ ", "button", "press('down')"))
    return line(" ", *buttons, Span(f"  {first + 1}–{first + shown} of {all_rows}", "dim"))


def _painted(page: Page, look: Look, first: int, end: int) -> list[Line]:
    return [_row(page, number, look) for number in range(first, end)]


def _row(page: Page, number: int, look: Look) -> Line:
    """A row is a button as wide as the screen; a value of the clinic's own says so."""
    row, room = page.rows[number], _room(page, number, look)
    mark = "▸" if number == look.row else " "
    name = padded(shortened(row.name, room.name), room.name)
    text = f"{mark} {name}  {padded(clipped(row.value, room.value), room.value)}{room.own} "
    return line(Span(text, "cursor" if number == look.row else "plain", f"change({number})"))


class _Room(NamedTuple):
    """Columns for a row's name and value, and the mark for a value of the clinic's own."""

    name: int
    value: int
    own: str


def _room(page: Page, number: int, look: Look) -> _Room:
    """Values are in one column; on a narrow screen where not all rows fit so, each follows its name.

    Rows that begin alike would else read alike there.
    """
    name = min(max(cell_len(row.name) for row in page.rows), WIDEST_NAME, look.width // 2 - 2)
    row, both = page.rows[number], look.width - 5
    set_here = row.set_here and row.value
    own = "" if not set_here else OWN if both - name - len(OWN) >= LEAST_VALUE else SHORT_OWN
    left = both - len(own)
    if look.width < ROOM_FOR_COLUMNS and not all(_fits(each, name, both - name) for each in page.rows):
        name = min(cell_len(row.name), left - min(cell_len(row.value), left // 2))
    return _Room(name, left - name, own)


def _fits(row: Row, name: int, value: int) -> bool:
    return cell_len(row.name) <= name and cell_len(row.value) <= value


def _in_full(page: Page, look: Look) -> str:
    """The row under the cursor, if there is no room for all of it in its place."""
    row, room = page.rows[look.row], _room(page, look.row, look)
    return "" if _fits(row, room.name, room.value) else f"{row.name}: {row.value}"


def trouble_rows(trouble: OrroomError, width: int) -> list[str]:
    """Why the file cannot be changed here, every problem on a row of its own or more."""
    found = "Fix this file in an editor before changing it here. Until then the defaults are used."
    return [row for each in [found, *str(trouble).split("\n")] for row in wrapped(each, width - 2)]


def _trouble(trouble: OrroomError, look: Look, room: int) -> list[Line]:
    """As much of the trouble as there is room for, from the row of the cursor on."""
    rows = trouble_rows(trouble, look.width)
    if len(rows) <= room:
        return [line(f" {row}") for row in rows]
    shown = max(1, room - 1)
    first = min(look.row, len(rows) - shown)
    return [*(line(f" {row}") for row in rows[first : first + shown]), _where(first, shown, len(rows))]


def _message(look: Look, otherwise: str) -> list[Line]:
    """What was said, or else what there is to say without."""
    remark = look.question.remark if look.question is not None else ""
    text, wrong = (f"✗ {remark}", True) if remark else (look.message or otherwise, look.wrong)
    rows = wrapped(text, look.width - 2)[:MESSAGE_ROWS] or [""]
    return [line(Span(f" {row}", "wrong" if wrong else "strong")) for row in rows]


def _keys(trouble: OrroomError | None, look: Look) -> list[Line]:
    if look.question is not None:
        return question_lines(look.question, look.width, min(QUESTION_ROWS, look.height - MESSAGE_ROWS - 1))
    wide = look.width >= ROOM_FOR_KEY_WORDS
    leave = Span(" Esc leave ", "button", "press('escape')")
    found = Span(" F1 help " if wide else " F1 ", "button", "press('f1')")
    if trouble is not None:
        again = " p put it aside and begin with the defaults " if wide else " p begin again "
        return wrapped_buttons([leave, found, Span(again, "button", "press('p')")], look.width, 2)
    change = Span(" Enter change " if wide else " Enter ", "button", "press('enter')")
    others = (Span("↑ ↓ row", "dim"), Span("← → page", "dim"))
    return wrapped_buttons([leave, found, change, *others], look.width, 1)
