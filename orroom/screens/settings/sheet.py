"""The settings file while it is changed; it runs without a terminal."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

from orroom.case.settings import Settings
from orroom.errors import OrroomError
from orroom.files.plan_words import Loc
from orroom.files.settings_file import (
    as_written,
    change_setting,
    changed,
    load_settings,
    put_aside,
    read_settings,
    settings_problems,
)
from orroom.screens.terminal.asking import Dialogue, Fault, Step
from orroom.screens.terminal.key_rules import KEY_RULES
from orroom.screens.terminal.keys import Keys


class Sheet:
    """What the file says; every change is written at once, if all of it is valid then."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.raw: dict[str, Any] = {}
        self.settings = Settings()
        self.keys = Keys.standard()
        #: Why the file cannot be changed here, or ``None``.
        self.trouble: OrroomError | None = None
        #: The result of the last change; ``wrong`` if it failed.
        self.message, self.wrong = "", False
        self.read()

    def read(self) -> None:
        """Take what the file says now."""
        try:
            self.settings = load_settings(self.path, KEY_RULES)
            self.raw = read_settings(self.path)
            self.keys = Keys(self.settings.keys.by_role())
            self.trouble = None
        except OrroomError as error:
            self.trouble = error

    def has(self, *loc: str) -> bool:
        """Whether the file itself says something there."""
        here: Any = self.raw
        for part in loc:
            if not isinstance(here, dict) or part not in here:
                return False
            here = here[part]
        return True

    def put(self, loc: Loc, value: object) -> None:
        """Change one thing in the file, or say why not."""
        try:
            problems = change_setting(self.path, loc, as_written(value), KEY_RULES)
            self.wrong = bool(problems)
            self.message = "; ".join(map(str, problems)) or "saved; used by stations opened from now on"
        except OrroomError as error:
            self.message, self.wrong = str(error), True
        self.read()

    def ask(self, loc: Loc, step: Step) -> Dialogue:
        """Ask one step, and put its answer there."""
        self.put(loc, (yield step))
        return None

    def row(self, name: str, value: str, loc: tuple[str, ...], step: Step) -> Row:
        """A row that asks one step."""
        return Row(name, value, self.has(*loc), lambda: self.ask(loc, step))

    def begin_again(self) -> None:
        """Keep a file that cannot be changed here under another name; the defaults hold then."""
        try:
            kept = put_aside(self.path)
            self.message, self.wrong = f"kept as {kept.name}; defaults in use now", False
        except OrroomError as error:
            self.message, self.wrong = str(error), True
        self.read()

    def fault(self, loc: Loc, value: object) -> str:
        """What would be wrong with a value, in a sentence; empty if nothing."""
        problems = settings_problems(changed(self.raw, loc, as_written(value)), KEY_RULES)
        return f"{problems[0].wrong}; {problems[0].right}" if problems else ""

    def fault_at(self, *loc: str | int) -> Fault:
        """What would be wrong with a value there."""
        return partial(self.fault, loc)


@dataclass(frozen=True, slots=True)
class Row:
    """One thing that can be changed: its name, what it is now, whether the file says so, how it is asked."""

    name: str
    value: str
    set_here: bool
    dialogue: Callable[[], Dialogue]
