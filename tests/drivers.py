"""The reading of keys without a terminal: a driver, a clock for its parser, what came of what was read."""

from __future__ import annotations

from collections.abc import Iterable

import pytest
from textual import events
from textual.message import Message

from orroom.screens.terminal.driver import StationDriver
from orroom.screens.terminal.flood import Allowance


def told(messages: Iterable[Message]) -> list[object]:
    return [(each.key, each.character) if isinstance(each, events.Key) else type(each) for each in messages]


class Hours:
    """A clock for the parser: stands still until it is moved."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.now = 100.0
        monkeypatch.setattr("orroom.screens.terminal.key_parser.time.monotonic", lambda: self.now)
        monkeypatch.setattr("textual._parser.get_time", lambda: self.now)


class Bystander:
    """A driver's station that only notes what it is told."""

    def __init__(self) -> None:
        self.calls: list[tuple[object, ...]] = []

    def call_later(self, *call: object) -> None:
        self.calls.append(call)

    def exit(self, *arguments: object) -> None:
        raise AssertionError


def driver(monkeypatch: pytest.MonkeyPatch) -> tuple[StationDriver, Bystander, list[Message]]:
    made, station, messages = StationDriver.__new__(StationDriver), Bystander(), []
    made._looked_at, made._held_up = 100.0, False
    made._allowance, made._unread = Allowance(), 0
    monkeypatch.setattr(made, "_station", station, raising=False)
    monkeypatch.setattr(made, "_debug", False, raising=False)
    monkeypatch.setattr(made, "process_message", messages.append)
    return made, station, messages
