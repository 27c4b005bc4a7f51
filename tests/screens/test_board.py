"""The board's own way to a picture, beside the library's."""

from __future__ import annotations

from pathlib import Path

import pytest
from seats import harvested, seated
from stations import new_case, station
from textual.css.stylesheet import Stylesheet
from textual.geometry import Region
from textual.widget import Widget

from orroom.case.terms import ROLES, Role, Theme
from orroom.screens.stations.app import OrroomApp
from orroom.screens.terminal.board import Board
from orroom.screens.terminal.painting import Span
from orroom.screens.terminal.theme import THEMES, styles_of


@pytest.mark.parametrize("no_color", [False, True])
@pytest.mark.parametrize("role", ROLES)
async def test_the_lines_are_those_of_the_library(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, role: Role, *, no_color: bool
):
    if no_color:
        monkeypatch.setenv("NO_COLOR", "1")
    case = new_case(tmp_path / "case.orroom")
    harvested(case)
    async with seated(case, role) as seat:
        board = seat.screen.board
        for key in ("1", "2", "enter", "f1", "escape", "f10"):
            await seat.press(key)
            for theme in THEMES.values():
                seat.app.theme = theme.name
                await seat.settle()
                for crop in (board.size.region, Region(7, 3, 30, 9), Region(0, 0, 80, 1)):
                    assert board.render_lines(crop) == Widget.render_lines(board, crop)
                styles = styles_of(theme).values()
                assert {segment.style for row in range(24) for segment in board.render_line(row)} <= {*styles}


async def test_lines_of_another_width(tmp_path: Path):
    async with seated(new_case(tmp_path / "case.orroom"), "cutting") as seat:
        board = seat.screen.board
        await seat.pilot.resize_terminal(60, 20)
        await seat.settle()
        board.show([(Span("narrow", "strong"),)])
        for crop in (board.size.region, Region(50, 0, 10, 20)):
            assert board.render_lines(crop) == Widget.render_lines(board, crop)
        assert board.render_line(0).text == "narrow".ljust(60)


async def test_changed_lines_are_painted_at_once(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    async with seated(new_case(tmp_path / "case.orroom"), "cutting") as seat:
        painted: list[str] = []
        monkeypatch.setattr(seat.app, "post_display_hook", lambda: painted.append(seat.screen.board.text))
        for _ in range(2):
            seat.screen.board.show([(Span("now", "strong"),)])
        assert painted == ["now"]


@pytest.mark.parametrize("theme", THEMES)
async def test_a_station_has_its_colours_from_the_start(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, theme: Theme
):
    parsed_again: list[Stylesheet] = []
    monkeypatch.setattr(Stylesheet, "reparse", parsed_again.append)
    case = new_case(tmp_path / "case.orroom")
    with station(case) as desk:
        app = OrroomApp(desk, theme)
        async with app.run_test(size=(80, 24)):
            assert app.screen_stack == [app.front]
            style = app.screen.query_one(Board).rich_style
            assert style.bgcolor is not None
            assert style.bgcolor.name.upper() == THEMES[theme].background
    assert not parsed_again


async def test_a_screen_has_nothing_but_its_board(tmp_path: Path):
    with station(new_case(tmp_path / "case.orroom")) as desk:
        app = OrroomApp(desk)
        async with app.run_test(notifications=True, tooltips=True):
            assert [type(each) for each in app.screen.children] == [Board]
