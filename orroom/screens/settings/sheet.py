"""The settings file while it is changed; it runs without a terminal."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from orroom.case.settings import Settings
from orroom.errors import OrroomError, Problem
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
from orroom.screens.terminal.asking import Dialogue
from orroom.screens.terminal.key_rules import KEY_RULES
from orroom.screens.terminal.keys import Keys


class Sheet:
    """What the file says; every change is written at once, if all of it is sound then."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.raw: dict[str, Any] = {}
        self.settings = Settings()
        self.keys = Keys.standard()
        #: Why the file cannot be changed here, or ``None``.
        self.trouble: OrroomError | None = None
        #: What the last change came to; ``wrong`` if it was none.
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
            self._said(change_setting(self.path, loc, value, KEY_RULES))
        except OrroomError as error:
            self.message, self.wrong = str(error), True
        self.read()

    def _said(self, problems: tuple[Problem, ...]) -> None:
        self.wrong = bool(problems)
        self.message = "; ".join(map(str, problems)) or "saved; stations opened from now on go by it"

    def begin_anew(self) -> None:
        """Keep a file that cannot be changed here under another name; the defaults hold then."""
        try:
            kept = put_aside(self.path)
            self.message, self.wrong = f"kept as {kept.name}; the defaults hold now", False
        except OrroomError as error:
            self.message, self.wrong = str(error), True
        self.read()

    def fault(self, loc: Loc, value: object) -> str:
        """What would be wrong with a value, in a sentence; empty if nothing."""
        problems = settings_problems(changed(self.raw, loc, as_written(value)), KEY_RULES)
        return f"{problems[0].wrong}; {problems[0].right}" if problems else ""


@dataclass(frozen=True, slots=True)
class Row:
    """One thing that can be changed: its name, what it is now, whether the file says so, how it is asked."""

    name: str
    value: str
    set_here: bool
    dialogue: Callable[[], Dialogue]
