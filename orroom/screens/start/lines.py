"""The start screen: menus to choose from and texts to read, as pure lines."""

from __future__ import annotations

from dataclasses import dataclass
from io import StringIO
from typing import TYPE_CHECKING, Final, NamedTuple

from msgspec.structs import replace
from rich.cells import cell_len

from orroom.screens.terminal.keys import shown_key
from orroom.screens.terminal.layout import Block, Rank, rows_of, stacked
from orroom.screens.terminal.painting import (
    BETWEEN,
    Line,
    Span,
    Tone,
    clipped,
    letter_lines,
    line,
    message_rows,
    one_of,
    padded,
    rule,
    spread,
    wrapped,
    wrapped_buttons,
)

if TYPE_CHECKING:
    from orroom.formats.blocks import Blocks

#: This many rows of a list stay, whatever else there is to say.
LEAST_ROWS: Final = 4
BAR_ROWS: Final = 4
#: What is typed has this many columns behind what is asked, or else a line of its own.
LEAST_TYPED: Final = 12
#: A narrower screen leaves out what F1 is called, so that a list keeps its rows.
ROOM_FOR_F1_WORD: Final = 40


#: Where the cursor is while nothing is chosen yet: Enter answers nothing then.
NOWHERE: Final = -1


class Item(NamedTuple):
    """What can be chosen: by its key, the arrows and Enter, or a click; ``value`` is what is chosen."""

    key: str
    label: str
    value: object = None
    more: tuple[str, ...] = ()
    tone: Tone = "plain"


@dataclass(frozen=True, slots=True)
class Menu:
    """Items in a list, others in the bar below it. ``asks`` is what may be typed instead, if anything."""

    title: str
    about: tuple[str, ...] = ()
    items: tuple[Item, ...] = ()
    bar: tuple[Item, ...] = ()
    notes: tuple[str, ...] = ()
    asks: str = ""
    initials: bool = False  #: what is typed is somebody's initials
    begin: int = 0  #: where the cursor is first
    own_keys: bool = False  #: Enter answers nothing at all: an item has its own key, or a click
    where: str = ""  #: the folder that is looked into

    @property
    def all(self) -> tuple[Item, ...]:
        """Everything that the cursor goes through."""
        return (*self.items, *self.bar)


class Text(NamedTuple):
    """A text to read, page by page, or ``blocks`` set out as the command line sets it out.

    A ``help`` lies over what it explains: keys that turn no page close it and do their own work there.
    """

    title: str
    text: str
    blocks: Blocks = ()
    help: bool = False


@dataclass(slots=True)
class MenuLook:
    """How the screen stands: its size, the cursor, what is typed and said, the page of a text from 0."""

    width: int = 80
    height: int = 24
    cursor: int = 0
    typed: str = ""
    message: str = ""
    wrong: bool = False
    page: int = 0


def menu_lines(menu: Menu, look: MenuLook) -> list[Line]:
    """All lines of a menu, exactly ``look.height`` of them; the item under the cursor is always shown."""
    width = look.width
    about = [line(f" {row}") for each in menu.about for row in wrapped(each, width - 2)]
    above = [
        Block([_head(menu, width)], Rank.HEADER),
        Block([rule(width)], Rank.RULE),
        Block(about, Rank.PROMPTS),
        Block(_typed_lines(menu, look), Rank.TYPED),
    ]
    below = [
        Block(_message_lines(look), Rank.MESSAGE),
        Block(_bar_lines(menu, look), Rank.KEYS),
    ]
    items = [_item_lines(item, number, look, len(menu.items)) for number, item in enumerate(menu.items)]
    listed = sum(map(len, items))
    room = look.height - rows_of([*above, *below]) - min(listed, 2 * LEAST_ROWS) - 1
    below.insert(0, Block(_note_lines(menu.notes, width, room), Rank.DETAIL))

    def window(rows: int) -> list[Line]:
        return _window(items, max(0, min(look.cursor, len(items) - 1)), rows)

    return stacked(above, window, below, look.height, min(LEAST_ROWS, listed))


def _head(menu: Menu, width: int) -> Line:
    """The title, and where there is room the folder, from its end."""
    room = width - cell_len(menu.title) - 5
    where = menu.where if cell_len(menu.where) <= room else f"…{menu.where[-room + 1 :]}" if room > 8 else ""
    return spread(
        line(" ", Span(clipped(menu.title, width - 2), "strong")), line(Span(where, "dim"), " "), width
    )


def _item_lines(item: Item, number: int, look: MenuLook, items: int) -> list[Line]:
    """An item over the whole width, so that a finger finds it; the cursor is a mark and a colour."""
    here = number == look.cursor
    action = f"pick({number})"
    key = f" {item.key} " if item.key else "   "
    room = look.width - 6
    lines: list[Line] = [
        line(
            Span("▸" if here else " ", "strong", action),
            Span(key, "cursor" if here else "button", action),
            Span(padded(f" {clipped(item.label, room)}", room + 2), "strong" if here else item.tone, action),
        )
    ]
    lines += [
        line(Span(padded(f"     {row}", look.width), "dim", action))
        for each in item.more
        for row in wrapped(each, look.width - 6)
    ]
    return [*lines, ()] if item.more and number < items - 1 and look.height >= ROOM_BETWEEN else lines


#: From this height on items of several lines stand apart.
ROOM_BETWEEN: Final = 20


def _window(items: list[list[Line]], cursor: int, rows: int) -> list[Line]:
    """The rows of a list around the cursor; where not all fit, the last one says so and turns the pages."""
    flat = [row for item in items for row in item]
    if len(flat) <= rows:
        return flat
    if rows == 1:
        return [_with_more(items[cursor][0], len(items) - 1, last=cursor == len(items) - 1)]
    room = max(1, rows - 1)
    starts = [sum(map(len, items[:number])) for number in range(len(items))]
    first = min(starts[cursor], len(flat) - room)
    for start in reversed(starts[: cursor + 1]):  # as far up as the item under the cursor stays whole
        if starts[cursor] + len(items[cursor]) - start > room:
            break
        first = min(first, start)
    seen = [n for n, start in enumerate(starts) if first <= start < first + room]
    where = f" {seen[0] + 1}–{seen[-1] + 1} of {len(items)}" if seen else ""
    turn = [Span(f" {shown_key(key)} ", "button", f"press('{key}')") for key in ("pageup", "pagedown")]
    return [*flat[first : first + room], line(Span(f"{where}  ", "dim"), turn[0], BETWEEN, turn[1])][:rows]


def _with_more(row: Line, more: int, *, last: bool) -> Line:
    """A list's only row, and behind it how many more items there are."""
    way, key = ("↑", "up") if last else ("↓", "down")
    found = Span(f" +{more} more {way} ", "button", f"press('{key}')")
    *before, label = row
    room = cell_len(label.text) - cell_len(found.text)
    return (*before, replace(label, text=padded(clipped(label.text.rstrip(), room), room)), found)


def _typed_lines(menu: Menu, look: MenuLook) -> list[Line]:
    if not menu.asks:
        return []
    ask = Span(f" {menu.asks} ", "strong")
    beside_it = cell_len(ask.text) + LEAST_TYPED <= look.width
    room = look.width - 3 - (cell_len(ask.text) if beside_it else 0)
    shown = look.typed if cell_len(look.typed) <= room else f"…{look.typed[-room + 1 :]}"
    typed = Span(f"{shown}▌", "cursor")
    above = [line(Span(f" {row}", "strong")) for row in wrapped(menu.asks, look.width - 2)]
    lines = [line(ask, typed)] if beside_it else [*above, line(" ", typed)]
    return [*lines, *(letter_lines(look.width, "type") if menu.initials else [])]


def _message_lines(look: MenuLook) -> list[Line]:
    tone: Tone = "wrong" if look.wrong else "strong"
    mark = "✗ " if look.wrong else ""
    return message_rows(f"{mark}{look.message}", look.width, tone)


def _bar_lines(menu: Menu, look: MenuLook) -> list[Line]:
    buttons = [
        one_of(f"{shown_key(item.key)} {item.label}", f"pick({number})", here=number == look.cursor)
        for number, item in enumerate(menu.bar, len(menu.items))
    ]
    found = " F1 help " if look.width >= ROOM_FOR_F1_WORD else " F1 "
    buttons.append(Span(found, "button", "press('f1')"))
    return wrapped_buttons(buttons, look.width, BAR_ROWS)


def menu_help(menu: Menu) -> Text:
    """What is asked in a menu, what keys do, and everything that can be chosen, whole."""
    found = [menu.title, *menu.about, "", " ↑ ↓  choose; PgUp and PgDn go five further"]
    found.append(" Enter  chooses; so does Space, a click, or the key in front")
    if menu.asks:
        letters = "initials: a letter, then letters or digits" if menu.initials else "a text"
        found.append(f" type  {letters}; Enter takes it, Backspace deletes the last character")
    found += [f" {shown_key(each.key)}  {each.label}" for each in menu.bar]
    if menu.items:
        found += ["", "What can be chosen:"]
    for each in menu.items:
        found += [f" {each.key or '·'}  {each.label}", *(f"    {more}" for more in each.more)]
    found += ["", "○ open  ● signed off  ≠ cannot be read", "usable: in dishes, with the placers or placed"]
    return Text("Keys, choices", "\n".join((*found, "", *menu.notes)), help=True)


def _note_lines(notes: tuple[str, ...], width: int, room: int) -> list[Line]:
    """The notes that fit, each whole."""
    lines: list[Line] = []
    for each in notes:
        rows = [line(Span(f" {row}", "dim")) for row in wrapped(each, width - 2)]
        if len(lines) + len(rows) > room:
            break
        lines += rows
    return lines


def text_rows(text: Text, width: int) -> list[str]:
    """A text in rows of ``width`` columns."""
    if not text.blocks:
        return [row for each in text.text.split("\n") for row in _kept_indent(each, width)]
    from rich.console import Console

    from orroom.formats.terminal import OnTerminal

    paper = Console(file=StringIO(), width=width, color_system=None, force_terminal=False)
    with paper.capture() as captured:
        paper.print(OnTerminal(text.blocks))
    return [row.rstrip() for row in captured.get().rstrip().split("\n")]


def _kept_indent(text: str, width: int) -> list[str]:
    """A line wrapped under its own beginning."""
    indent = " " * min(len(text) - len(text.lstrip()), width // 4)
    return [f"{indent}{row}" for row in wrapped(text.strip(), width - len(indent))] or [""]


def text_lines(text: Text, rows: list[str], look: MenuLook) -> list[Line]:
    """A page of a text: exactly ``look.height`` lines. ``rows`` are those of ``text_rows``."""
    room = max(1, look.height - 3)
    pages = pages_of(rows, look)
    page = min(look.page, pages - 1)
    shown = [line(f" {row}") for row in rows[page * room : (page + 1) * room]]
    head = spread(
        line(" ", Span(text.title, "strong")),
        line(f"page {page + 1} of {pages} " if pages > 1 else ""),
        look.width,
    )
    turn = [
        Span(" Space next ", "button", "press('space')"),
        Span(" PgUp back ", "button", "press('pageup')"),
    ]
    close = Span(" Esc close ", "button", "press('escape')")
    bar = wrapped_buttons([close, *(turn if pages > 1 else [])], look.width, 1)
    return [*[head, rule(look.width), *shown, *[()] * room][: look.height - 1], *bar]


def pages_of(rows: list[str], look: MenuLook) -> int:
    """On how many pages a text stands."""
    return max(1, -(-len(rows) // max(1, look.height - 3)))
