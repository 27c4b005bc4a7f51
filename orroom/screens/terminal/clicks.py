"""Which clicks are a hand's, and meant for what they hit; the rest is left out, each with its reason."""

import re

from orroom.screens.terminal.buttons import Button, Click
from orroom.screens.terminal.hands import DOUBLE_CLICK, FOCUS_CLICK

#: What may be clicked again at once: a graft more, a cell, a digit, a letter, the next page.
AGAIN_AT_ONCE = re.compile(
    r"cut\(.*|go\(.*|up|down|left|right"
    r"|(?:press|type)\('(?:[0-9A-Z.]|backspace|up|down|left|right|space|pagedown|f1)'\)"
)


class Clicks:
    """The mouse at one station: fed its clicks in order, and when the keyboard goes and comes."""

    def __init__(self) -> None:
        #: The next click brings the keyboard back: it has been away since the last one.
        self._away = False
        self._back_at = float("-inf")
        self._last: Button | None = None
        self._last_at = float("-inf")

    def focus_lost(self) -> None:
        """Keys go to another window now."""
        self._away = True

    def focus_back(self, at: float) -> None:
        """Keys come here again."""
        if self._away:
            self._away, self._back_at = False, at

    def meant(self, click: Click, turns: str | None = None) -> Button | str:
        """The button that a click was meant for, or why it is left out; the key ``turns`` turns pages."""
        away, self._away = self._away, False
        last, last_at = self._last, self._last_at
        self._last, self._last_at = click.button, click.at
        if away or click.down_at - self._back_at < FOCUS_CLICK:
            return "the click that brings the keyboard here was ignored: nothing counted"
        if not click.plain:
            return "only a plain left click counts: ignored"
        if click.button is None or click.button != click.released_on:
            return "the mouse was pressed and released in two places: ignored"
        if click.new:
            return "that came under the pointer just now: click ignored"
        again = click.button == last and click.at - last_at < DOUBLE_CLICK
        if again and click.button.key != turns and not AGAIN_AT_ONCE.fullmatch(click.button.action):
            return "a second click so soon is left out"
        return click.button
