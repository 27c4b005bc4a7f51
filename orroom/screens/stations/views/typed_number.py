"""The number being typed at a placing station, which is the one to be right, and the digits as buttons."""

from collections.abc import Sequence
from typing import Final

from msgspec.structs import replace

from orroom.screens.terminal.painting import Line, Span, Tone, first_that_fits, line, wrapped_buttons

#: Digits of a number, at most.
LONGEST_NUMBER: Final = 5
#: From this width on there is room for the digits as buttons, in this many columns.
ROOM_FOR_BUTTONS, BUTTONS = 48, 36
NOTHING_TYPED: Final = Span(" how many?▌", "dim")
_KEYS: Final = tuple(Span(f" {digit} ", "button", f"type('{digit}')") for digit in "0123456789")
_BUTTONS: Final = (*_KEYS, Span(" ⌫ ", "button", "type('backspace')"))
#: The digits as buttons, apart from each other.
BUTTONS_LINE: Final = line(" ", *wrapped_buttons(_BUTTONS, 80, 1)[0])


def typed_number(typed: str, what: Sequence[str], width: int, wrong: Sequence[str] = ()) -> Line:
    """The number and ``what`` Enter would do with it, in words and in fewer of them, on one line.

    What is ``wrong`` with it is said as well, or in place of that where there is no room for both.
    """
    if wrong:
        what = [*(f" {wrong[0]} ·{each}" for each in what), *(f" {each}" for each in wrong)]
    tone: Tone = "wrong" if wrong else "strong"
    shown = Span(f" {typed}▌", "cursor") if typed else NOTHING_TYPED
    room = width - BUTTONS
    if width < ROOM_FOR_BUTTONS:
        return line(shown, Span(first_that_fits(what, width - len(shown.text)), tone))
    words = first_that_fits(what, room - len(shown.text))
    return (
        shown,
        Span(f"{words}  ", tone),
        *(replace(each, text=f"{each.text.strip()} ") for each in _BUTTONS),
    )
