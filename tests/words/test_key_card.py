"""The key card to print: all keys of a role, what its numbers mean, the cautions, on one A5 page."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from free_keys import free_keys
from rich.cells import cell_len

from orroom.case.terms import CAUTIONS, ROLES, Role
from orroom.cli import main
from orroom.cli.status import ON_CARD
from orroom.screens.stations.views.over import COMPARING, COUNTING
from orroom.screens.terminal.keys import KEYS, Keys
from orroom.words.key_card import HEIGHT, WIDTH, key_card
from orroom.words.screen_numbers import MEANINGS, meanings_of


def card(*arguments: str) -> Result:
    return CliRunner().invoke(main, ["keys", *arguments])


@pytest.mark.parametrize("role", [*ROLES, "count"])
def test_a_card_fits_on_an_a5_page(role: str):
    # 148 × 210 mm less 10 mm on each side, at 12 characters and 6 lines an inch.
    assert WIDTH <= (148 - 20) / 25.4 * 12
    assert HEIGHT <= (210 - 20) / 25.4 * 6 + 1
    lines = card("--role", role).stdout.splitlines()
    assert len(lines) <= HEIGHT
    assert max(map(cell_len, lines)) <= WIDTH


@pytest.mark.parametrize("role", ROLES)
def test_it_tells_every_key_of_the_role_what_its_numbers_mean_and_the_cautions(role: Role):
    text = card("--role", role).stdout
    words = " ".join(text.split())
    for key in Keys.standard().of(role):
        if key.action == f"role('{role}')":
            assert key.help not in words  # it is the screen that one is at
            continue
        assert any(row.startswith(f"{key.shown} ") or f" {key.shown} " in row for row in text.splitlines())
        assert ON_CARD.get(key.action, key.help) in words
    for each in meanings_of(role):
        assert f"{each.shown} {each.means}" in words
    for caution in CAUTIONS:
        assert caution in words


def test_the_card_of_the_final_count_tells_what_its_help_tells():
    text = card("--role", "count").stdout
    words = " ".join(text.split())
    assert text.startswith("FINAL COUNT: KEYS\nk ")
    for over in (COUNTING, COMPARING):
        for each in over.keys:
            assert f"{each.shown} {each.does}" in words
        for shown, means in over.numbers:
            assert f"{shown} {means}" in words
    for caution in CAUTIONS:
        assert caution in words


def test_no_card_has_the_keys_of_another_role():
    assert "cut from the other harvest" not in card("--role", "placing").stdout
    assert "sites made" not in card("--role", "cutting").stdout


def test_what_the_card_says_in_other_words_are_keys_of_the_table():
    assert set(ON_CARD) <= {key.action for key in KEYS}


def test_short_rows_share_a_line_and_long_ones_are_wrapped_under_their_text():
    long = "does " + "so very much " * 6
    rows = [("a", "up"), ("b", "down"), ("c", "left"), ("d", long), ("e", "right")]
    text = key_card("cutting", rows, [])
    assert text.splitlines()[1:6] == [
        "a      up                     b      down",
        "c      left",
        "d      does so very much so very much so very much so very",
        "       much so very much so very much",
        "e      right",
    ]


def test_every_meaning_is_of_some_role_and_is_told_once():
    assert all(each.roles for each in MEANINGS)
    for role in ROLES:
        names = [each.shown for each in meanings_of(role)]
        assert len(names) == len(set(names))


def test_it_is_written_to_a_new_file(tmp_path: Path):
    path = tmp_path / "card.txt"
    assert card("--role", "overview", "--output", str(path)).exit_code == 0
    assert path.read_text("utf-8") == card("--role", "overview").stdout
    again = card("--role", "overview", "--output", str(path))
    assert again.exit_code != 0
    assert "already exists" in again.stderr


def test_a_role_must_be_named():
    assert card().exit_code == 2


def test_it_has_the_keys_as_the_clinic_has_bound_them(settings_file: Path):
    free = free_keys(*ROLES)[0]
    settings_file.write_text(f'[keys.cutting]\nundo = ["{free}"]\n', "utf-8")
    assert f"\n{free}      undo your last tap here" in card("--role", "cutting").stdout
    assert "\nu      undo your last tap here" in card("--role", "placing").stdout


def test_where_the_settings_are_wrong_it_says_that_these_are_the_standard_keys(settings_file: Path):
    settings_file.write_text('[keys.cutting]\nundo = ["x"]\n', "utf-8")
    result = card("--role", "cutting")
    assert "defaults in use" in result.stderr
    assert "\nu      undo your last tap here" in result.stdout
