"""The start screen's menus without a terminal: invented cases, what is shown, keys."""

from pathlib import Path
from typing import Any

from cases import MINUTE_MS, MORNING_MS, small_plan

from orroom.record.cases import FoundCase, OpenStation, Standing
from orroom.screens.start.chosen import Chosen, Found
from orroom.screens.start.open_menus import OpenMenus
from orroom.screens.terminal.painting import text_of, width_of


def a_case(name: str = "T-1", **changes: Any) -> FoundCase:
    parts: dict[str, Any] = {
        "plan": small_plan(case=name),
        "utc_offset_minutes": 0,
        "signed_off": False,
        "usable": 120,
        "placed": 40,
        "stations": (OpenStation("cutting-1", "cutting", "AB"), OpenStation("overview-1", "overview", "OR")),
        "entries": 300,
        "last_at_ms": MORNING_MS,
        "begun": name,
        "shared_log": True,
    }
    path, copy = changes.pop("path", Path(f"{name}.orroom")), changes.pop("copy", False)
    standing = Standing(**(parts | changes))
    return FoundCase(path, standing, "", standing.last_at_ms, copy)


UNREADABLE = FoundCase(
    Path("bad.orroom"), None, "bad.orroom is not an orroom case file. Give a file that ends in .orroom.", 1
)
NOW_MS = MORNING_MS + 5 * MINUTE_MS


def menus_of(*cases: FoundCase, **found: Any) -> OpenMenus:
    return OpenMenus(Found(tuple(cases), **found), NOW_MS)


def shown(menus: OpenMenus, size: tuple[int, int] = (80, 24)) -> str:
    lines = menus.lines(*size)
    assert len(lines) == size[1]
    assert [text_of(each) for each in lines if width_of(each) > size[0]] == []
    return "\n".join(text_of(each).rstrip() for each in lines)


def press(menus: OpenMenus, *keys: str) -> Chosen | None:
    chosen = None
    for key in keys:
        chosen = menus.take(key, {"space": " "}.get(key, key if len(key) == 1 else None), NOW_MS)
    return chosen
