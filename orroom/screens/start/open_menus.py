"""What keys do in the start screen's menus and texts: one over the other. It runs without a terminal."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Final, NamedTuple

from orroom.case.terms import MAX_TEXT, clean, is_initials
from orroom.record.cases import FoundCase
from orroom.screens.start.case_menus import case_menu
from orroom.screens.start.chosen import Chosen, Flow, Found
from orroom.screens.start.lines import (
    NOWHERE,
    Menu,
    MenuLook,
    Text,
    menu_help,
    menu_lines,
    pages_of,
    text_lines,
    text_rows,
)
from orroom.screens.start.menus import home_menu
from orroom.screens.terminal.keys import HELP_KEY, shown_key
from orroom.screens.terminal.painting import Line

if TYPE_CHECKING:
    from orroom.formats.blocks import Blocks

#: How far keys move the cursor in a menu; a page is this many items.
STEPS: Final = {"up": -1, "left": -1, "down": 1, "right": 1, "pageup": -5, "pagedown": 5}
#: What turns a text's page; on the last one it closes the text.
FORWARD: Final = frozenset({"space", "pagedown", "down", "right", "enter", HELP_KEY})
BACKWARD: Final = frozenset({"pageup", "up", "left", "backspace"})
CLOSE_A_TEXT: Final = frozenset({"escape", "q"})
CLOSE_A_HELP: Final = frozenset({"escape"})
#: Other keys for the item that leaves, as at a station.
LEAVE: Final = frozenset({"q", "ctrl+q"})
INITIALS: Final = "initials are a letter, then up to three letters or digits, such as AB"


class Result(NamedTuple):
    """What came of a choice: a sentence, or with a ``title`` a text or ``blocks``; ``case`` was made by it.

    ``then`` is what is to be asked now.
    """

    text: str
    title: str = ""
    wrong: bool = False
    blocks: Blocks = ()
    case: Path | None = None
    then: Callable[[], Flow] | None = None


@dataclass(slots=True, eq=False)
class Opened:
    """A menu or text that is open, the flow that asks it, the case that it is of, how it stands."""

    shows: Menu | Text
    flow: Flow | None = None
    case: Path | None = None
    look: MenuLook = field(default_factory=MenuLook)


class OpenMenus:
    """What is open: the list of cases, and over it what was chosen. Keys answer what is then to be done."""

    def __init__(self, found: Found, now_ms: int) -> None:
        self.found = found
        self.opened = [Opened(home_menu(found, now_ms))]

    @property
    def top(self) -> Opened:
        """What is shown."""
        return self.opened[-1]

    @property
    def asks(self) -> bool:
        """Whether a text is being typed."""
        return isinstance(self.top.shows, Menu) and bool(self.top.shows.asks)

    def lines(self, width: int, height: int) -> list[Line]:
        """What is open, as ``height`` lines."""
        top = self.top
        top.look.width, top.look.height = width, height
        if isinstance(top.shows, Menu):
            return menu_lines(top.shows, top.look)
        return text_lines(top.shows, text_rows(top.shows, width - 2), top.look)

    def say(self, message: str, *, wrong: bool = False) -> None:
        """One sentence in what is open."""
        self.top.look.message, self.top.look.wrong = message, wrong

    def show_result(self, result: Result) -> None:
        """Say what came of something: in the message line, or as a text over it."""
        if result.then is not None:
            flow = result.then()
            self._open(Opened(next(flow), flow, self.top.case))
        elif result.title:
            self._open(Opened(Text(result.title, result.text, result.blocks)))
        else:
            self.say(result.text, wrong=result.wrong)

    # What is found.

    def show_found(self, found: Found, now_ms: int) -> None:
        """Show what was found; cases that are listed keep their places, and the cursor its case."""
        places = {each.path: place for place, each in enumerate(self.found.cases)}
        cases = sorted(found.cases, key=lambda each: (each.copy, places.get(each.path, -1)))
        self.found = replace(found, cases=tuple(cases))
        home = self.opened[0]
        before, home.shows = home.shows, home_menu(self.found, now_ms)
        if isinstance(before, Menu):
            home.look.cursor = _same_place(before, home.shows, home.look.cursor)
        for opened in self.opened:
            if opened.case is not None and opened.flow is None and isinstance(opened.shows, Menu):
                menus = (case_menu(each, self.found, now_ms) for each in cases if each.path == opened.case)
                old, opened.shows = opened.shows, next(menus, opened.shows)
                if [each.label for each in old.all] != [each.label for each in opened.shows.all]:
                    opened.look.cursor = 0  # signed off or reopened: other things can be done now

    def go_to(self, path: Path, now_ms: int) -> None:
        """Open the menu of a case, alone over the list."""
        del self.opened[1:]
        home = self.top.shows
        listed = [item.value for item in home.items] if isinstance(home, Menu) else []
        for each in self.found.cases:
            if each.path.resolve() == path.resolve():
                self.top.look.cursor = listed.index(each) if each in listed else 0
                self._open(Opened(case_menu(each, self.found, now_ms), case=each.path))
                return

    # What keys do.

    def take(self, key: str, character: str | None, now_ms: int) -> Chosen | None:
        """What a key does; answers what is to be done, if anything. ``key`` is a plain name."""
        top = self.top
        self.say("")
        if isinstance(top.shows, Text):
            if key in {"f10", "ctrl+q"}:
                return Chosen("leave")
            if self._turn(top.shows, top.look, key) or not top.shows.help:
                return None
            self._close()
            return self.take(key, character, now_ms)
        menu, look = top.shows, top.look
        if key in STEPS:
            look.cursor = _moved(look.cursor, STEPS[key], len(menu.all) - 1)
        elif key == "escape":
            self._close()
        elif key == HELP_KEY:
            self._open(Opened(menu_help(menu)))
        elif key == "backspace":
            look.typed = look.typed[:-1]
        elif key == "enter" and clean(look.typed):
            return self._answer(clean(look.typed))
        elif key in {"enter", "space"} and not look.typed:
            if look.cursor != NOWHERE and not menu.own_keys:
                return self.pick(look.cursor, now_ms)
            self.say(_how(menu), wrong=True)
        elif not look.typed and (place := _place_of(menu, key)) is not None:
            return self.pick(place, now_ms)
        elif menu.asks and character is not None and character.isprintable():
            self._type(menu, look, character)
        elif key in {"f10", "ctrl+q"}:
            self.say("F10 leaves while nothing is typed; Esc goes back", wrong=True)
        else:
            self.say(f"{shown_key(key)} does nothing here", wrong=True)
        return None

    def pick(self, place: int, now_ms: int) -> Chosen | None:
        """Choose an item of the menu that is open; answers what is to be done, if anything."""
        top = self.top
        if isinstance(top.shows, Text) or place >= len(top.shows.all):
            return None
        item = top.shows.all[place]
        if place < len(top.shows.items):
            top.look.cursor = place
        match item.value:
            case Chosen() as chosen:
                return chosen
            case Menu() | Text() as shows:
                self._open(Opened(shows, case=top.case))
            case FoundCase() as found:
                self._open(Opened(case_menu(found, self.found, now_ms), case=found.path))
            case flow_of if callable(flow_of):
                flow = flow_of()
                self._open(Opened(next(flow), flow, top.case))
            case value if top.flow is not None and item.key != "escape":
                return self._answer(value)
            case _:
                self._close()
        return None

    def scroll(self, key: str, now_ms: int) -> None:
        """The wheel moves the cursor or turns the page, and closes nothing."""
        top = self.top
        at_end = isinstance(top.shows, Text) and top.look.page == self._pages(top.shows, top.look) - 1
        if key == "up" or not at_end:
            self.take(key, None, now_ms)

    def _turn(self, text: Text, look: MenuLook, key: str) -> bool:
        """Turn the page of a text, or close it; whether the key does either."""
        if key in FORWARD and look.page < self._pages(text, look) - 1:
            look.page += 1
        elif key in BACKWARD:
            look.page = max(0, look.page - 1)
        elif key in FORWARD or key in (CLOSE_A_HELP if text.help else CLOSE_A_TEXT):
            self._close()
        else:
            return False
        return True

    def _pages(self, text: Text, look: MenuLook) -> int:
        return pages_of(text_rows(text, look.width - 2), look)

    def _type(self, menu: Menu, look: MenuLook, character: str) -> None:
        if not menu.initials:
            look.typed = (look.typed + character)[:MAX_TEXT]
        elif is_initials((look.typed + character).upper()):
            look.typed = (look.typed + character).upper()
        else:
            self.say(INITIALS, wrong=True)

    def _open(self, opened: Opened) -> None:
        if isinstance(opened.shows, Menu):
            opened.look.cursor = opened.shows.begin
        self.opened.append(opened)

    def _close(self) -> None:
        if len(self.opened) == 1:
            self.say("F10 leaves")
            return
        closed = self.opened.pop()
        if closed.flow is not None:
            closed.flow.close()

    def _answer(self, value: object) -> Chosen | None:
        """Answer the flow that is open: it asks more, or ends with a result."""
        top = self.top
        if top.flow is None:
            return None
        try:
            top.shows = top.flow.send(value)
        except StopIteration as done:
            self.opened.pop()
            if done.value is None:
                self.say("nothing done")
            chosen: Chosen | None = done.value
            return chosen
        top.look = MenuLook(cursor=top.shows.begin)
        return None


def _how(menu: Menu) -> str:
    """How a menu is answered that Enter alone does not answer."""
    press, text = "press one of the keys shown", "type it, then Enter"
    ways = [*([press] if menu.items else []), *([text] if menu.asks else [])]
    return f"{', or '.join(ways)}; Esc goes back"


def _moved(cursor: int, step: int, last: int) -> int:
    """One step goes round at the ends, a page stops there."""
    return (cursor + step) % (last + 1) if abs(step) == 1 else min(max(cursor + step, 0), last)


def _place_of(menu: Menu, key: str) -> int | None:
    """Which item a key chooses; where a text is typed, letters are of that."""
    if menu.asks and len(key) == 1 and key.isalpha():
        return None
    wanted = {key, "f10"} if key in LEAVE else {key}
    return next((place for place, item in enumerate(menu.all) if item.key in wanted), None)


def _same_place(before: Menu, after: Menu, cursor: int) -> int:
    """Where the item that was under the cursor stands now."""
    if cursor >= len(before.items):
        return cursor - len(before.items) + len(after.items)
    paths = [getattr(item.value, "path", None) for item in after.items]
    path = getattr(before.items[cursor].value, "path", None)
    return paths.index(path) if path in paths else min(cursor, len(after.all) - 1)
