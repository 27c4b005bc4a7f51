"""The private names of the terminal library that are used here, and the test that notices if one changes.

Any release may change them, so ``pyproject.toml`` lets in only releases of the one these tests pass on.
"""

from __future__ import annotations

import ast
import inspect
import pkgutil
import re
import tomllib
from collections.abc import Iterator
from functools import cache
from importlib import import_module
from importlib.metadata import version
from pathlib import Path
from types import ModuleType

import pytest
from textual import _xterm_parser
from textual._parser import Parser
from textual._xterm_parser import XTermParser
from textual.app import App
from textual.drivers._writer_thread import WriterThread
from textual.drivers.linux_driver import LinuxDriver
from textual.screen import Screen
from textual.widget import Widget

import orroom

ROOT = Path(__file__).parents[2]
PACKAGE = Path(orroom.__file__).parent


#: By the test that fails if one changes: what has it, and its name.
USED: dict[str, list[tuple[type | ModuleType, str]]] = {
    "test_mouse_focus_paste_and_modern_keys_are_read_as_the_library_reads_them": [
        (_xterm_parser, "_re_mouse_event"),
        (_xterm_parser, "_re_terminal_mode_response"),
    ],
    "test_keypad_five_without_numlock_has_its_name": [(XTermParser, "_sequence_to_key_events")],
    "test_of_a_flood_a_bounded_part_is_read_and_the_next_tap_is": [(Parser, "_timeout_time")],
    "test_no_terminal_is_asked_to_send_its_size": [(LinuxDriver, "_query_in_band_window_resize")],
    "test_a_fault_of_a_screen_says_so_and_shows_no_value": [(App, "_handle_exception")],
    "test_a_failing_reader_of_keys_is_no_success": [(LinuxDriver, "_run_input_thread")],
    "test_the_library_still_writes_to_the_file_of_its_driver": [(LinuxDriver, "_file")],
    "test_a_suspended_station_gives_the_terminal_back_and_goes_on": [(LinuxDriver, "_must_signal_resume")],
    "test_the_library_still_takes_the_terminal_twice": [(LinuxDriver, "_sigcont_application")],
    "test_taps_at_a_terminal_that_does_not_read_are_committed_and_painted_when_it_reads": [
        (LinuxDriver, "_writer_thread"),
        (WriterThread, "_queue"),
        (App, "_driver"),
    ],
    "test_taps_in_a_terminal_are_in_the_file": [(App, "_context")],
    "test_changed_lines_are_painted_at_once": [
        (Widget, "_set_dirty"),
        (Screen, "_dirty_widgets"),
        (Screen, "_on_timer_update"),
    ],
    "test_a_screen_has_nothing_but_its_board": [(Screen, "_extend_compose")],
}
LISTED = [each for listed in USED.values() for each in listed]
NAMES = {name for _, name in LISTED}

#: Private by their look alone: the interface of named tuples, and of the system.
PUBLIC = {"_replace", "_asdict", "_fields", "_make", "_exit"}


def private(name: str) -> bool:
    return name.startswith("_") and not name.startswith("__") and name not in PUBLIC


@cache
def own_names(made: type) -> set[str]:
    """The private names that a class gives a method, a field or ``self``."""
    source = inspect.getsource(made)
    return set(filter(private, re.findall(r"(?:\bself\.|\bdef |^    )(_\w+)", source, re.MULTILINE)))


def of_the_library(made: type) -> bool:
    return made.__module__.partition(".")[0] == "textual"


def our_widgets_and_drivers() -> Iterator[type]:
    """Our classes that are made from one of the library's."""
    for found in pkgutil.walk_packages([str(PACKAGE / "screens")], "orroom.screens."):
        for made in vars(import_module(found.name)).values():
            if (
                isinstance(made, type)
                and made.__module__ == found.name
                and any(map(of_the_library, made.__mro__))
            ):
                yield made


def test_the_library_is_pinned_to_releases_of_the_one_tested_here():
    needed = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]["dependencies"]
    (pin,) = (each for each in needed if each.startswith("textual"))
    least = pin.removeprefix("textual~=")
    assert least != pin
    assert len(least.split(".")) == 3
    assert version("textual").split(".")[:2] == least.split(".")[:2]


@pytest.mark.parametrize(("owner", "name"), LISTED, ids=lambda each: each if isinstance(each, str) else "")
def test_every_listed_name_is_there(owner: type | ModuleType, name: str):
    assert hasattr(owner, name) or f"self.{name}" in inspect.getsource(owner)


def test_the_tests_that_notice_are_there():
    written = "".join(path.read_text("utf-8") for path in (ROOT / "tests").rglob("test_*.py"))
    assert [name for name in USED if f"def {name}(" not in written] == []


def test_no_class_of_ours_takes_a_private_name_of_the_library_that_is_not_listed():
    taken = {}
    for made in our_widgets_and_drivers():
        theirs = {name for each in made.__mro__ if of_the_library(each) for name in own_names(each)}
        taken[made.__name__] = (own_names(made) & theirs) - NAMES
    assert {"StationDriver", "OrroomApp", "Board"} <= set(taken)
    assert {name for name, names in taken.items() if names} == set(), taken


def test_no_private_name_of_anything_else_is_used_that_is_not_listed():
    """What is imported from the library, and private attributes of other things than ``self``."""
    found = set()
    for path in PACKAGE.rglob("*.py"):
        nodes = list(ast.walk(ast.parse(path.read_text("utf-8"))))
        own = {each.name for each in nodes if isinstance(each, ast.FunctionDef | ast.AsyncFunctionDef)}
        attributes = [each for each in nodes if isinstance(each, ast.Attribute)]
        own |= {each.attr for each in attributes if isinstance(each.ctx, ast.Store)}
        used = {
            each.attr
            for each in attributes
            if not isinstance(each.value, ast.Name) or each.value.id != "self"
        } - own
        for each in nodes:
            if isinstance(each, ast.ImportFrom) and (each.module or "").startswith("textual"):
                used |= {name.name for name in each.names}
        found |= {(path.name, name) for name in used if private(name) and name not in NAMES}
    assert found == set()
