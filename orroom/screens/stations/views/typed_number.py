"""The number being typed at a placing station, which is the one to be right, and the digits as buttons."""

from __future__ import annotations

from typing import Final

from msgspec.structs import replace

from orroom.screens.terminal.digits import ROWS, block_digits, largest_scale
from orroom.screens.terminal.painting import Line, Span, beside, clipped, line, wrapped_buttons

#: Digits of a number, at most.
LONGEST_NUMBER: Final = 5
#: From this width on there is room for the digits as buttons, in so many columns.
ROOM_FOR_BUTTONS, BUTTONS = 48, 36
NOTHING_TYPED: Final = Span(" how many?▌", "dim")
_KEYS: Final = tuple(Span(f" {digit} ", "button", f"type('{digit}')") for digit in "0123456789")
_BUTTONS: Final = (*_KEYS, Span(" ⌫ ", "button", "type('backspace')"))


def typed_number(typed: str, what: str, width: int) -> Line:
    """The number and ``what`` Enter would do with it, on one line."""
    shown = Span(f" {typed}▌", "cursor") if typed else NOTHING_TYPED
    room = width - BUTTONS
    if width < ROOM_FOR_BUTTONS:
        return line(shown, Span(clipped(what, width - len(shown.text)), "strong"))
    words = clipped(what, room - len(shown.text) + 2)
    return (shown, Span(words, "strong"), *(replace(each, text=f"{each.text.strip()} ") for each in _BUTTONS))


def large_number(typed: str, what: str, width: int, room: int) -> list[Line]:
    """The same with the number in large digits, of twice as many rows where ``room`` allows three times."""
    scale = largest_scale(["8" * LONGEST_NUMBER], width // 3, 2 * ROWS if room >= 3 * ROWS else ROWS)
    left = len(block_digits("8" * LONGEST_NUMBER, scale)[0]) + 3
    above: list[Line] = [()] * (scale.height // 2 - 1)
    if typed:
        number = [line(Span(f" {row}", "mine")) for row in block_digits(typed, scale)]
    else:
        number = [*above, (), line(NOTHING_TYPED)]
    words = line(Span(clipped(what, width - left), "strong"))
    buttons = ((Span(" "), *each) for each in wrapped_buttons(_BUTTONS, width - left - 1, 1))
    return [(), *beside((number, left), ([*above, words, (), *buttons], width - left))]
