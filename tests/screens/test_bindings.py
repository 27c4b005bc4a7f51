"""Keys that a clinic binds otherwise: they count, every screen shows them, and what would harm is refused."""

from __future__ import annotations

from pathlib import Path

import pytest
from cases import opened_case
from click.testing import CliRunner
from free_keys import free_keys
from hypothesis import given
from hypothesis import strategies as st
from seats import Seat, seated
from stations import entered, new_case, station

from orroom.case import commands as c
from orroom.case import events as e
from orroom.case.settings import Bindings, Settings
from orroom.case.terms import ROLES, Role
from orroom.cli import main
from orroom.files.settings_file import change_setting, load_settings, read_settings, settings_problems
from orroom.screens.settings.clinic import Clinic, clinic_of
from orroom.screens.stations.views.cutting import cutting_lines
from orroom.screens.stations.views.frame import Glance, key_lines
from orroom.screens.stations.views.pages import help_blocks
from orroom.screens.terminal.buttons import Button, Click
from orroom.screens.terminal.clicks import Clicks
from orroom.screens.terminal.key_rules import KEY_RULES
from orroom.screens.terminal.keys import KEYS, NUMLOCK_OFF, SIGNS, Keys, key_named, shown_key
from orroom.screens.terminal.painting import text_of

#: Keys that do nothing at the cutting station as it comes.
ONE, MANY, FOUR, WHY = free_keys("cutting")[:4]
FREE = free_keys(*ROLES)[0]
CUTTING = {
    "cut-1": [ONE],
    "cut-m": [MANY, "9"],
    "undo": ["*"],
    "divide": ["F5"],
    "harvest": ["4"],
    "cut-4": [FOUR],
    "figures": [WHY],
    "leave": ["F9"],
}
BOUND = Keys({"cutting": CUTTING, "placing": {"issue": ["F6", "Space"], "answer": ["F7"]}})


def clinic(**roles: dict[str, list[str]]) -> Clinic:
    """A clinic that has bound these."""
    assert settings_problems({"keys": roles}, KEY_RULES) == ()
    bound = {role: {name: tuple(keys) for name, keys in of.items()} for role, of in roles.items()}
    return clinic_of(Settings(keys=Bindings(**bound)))


def dish(seat: Seat, size: str) -> int:
    return seat.desk.state.tally.held("dish", size)


def told(role: Role, **bound: object) -> list[str]:
    """The sentences about bindings at a role."""
    names = {name.replace("_", "-"): keys for name, keys in bound.items()}
    return [str(each) for each in settings_problems({"keys": {role: names}}, KEY_RULES)]


@pytest.fixture
def case(tmp_path: Path) -> Path:
    return new_case(tmp_path / "case.orroom")


# The object.


def test_the_standard_keys_are_those_of_the_table():
    standard = Keys.standard()
    for role in ROLES:
        assert standard.of(role) == tuple(key for key in KEYS if role in key.roles)
    assert standard.action_for("cutting", "5") == "cut('M')"
    assert standard.action_for("overview", "5") is None
    assert standard.shown("placing", "place") == "Enter"
    assert standard.shown("overview", "place") == ""


def test_a_bound_key_takes_the_place_of_the_standard_ones():
    assert BOUND.action_for("cutting", ONE) == "cut('1')"
    assert BOUND.action_for("cutting", "1") is None
    assert BOUND.action_for("cutting", "9") == "cut('M')"
    assert BOUND.action_for("cutting", "m") is None
    assert BOUND.action_for("cutting", "asterisk") == "undo"
    assert BOUND.action_for("placing", "u") == "undo"  # bound at the other role only
    assert BOUND.action_for("placing", "space") == "issue"
    assert BOUND.of_sizes() == {"1": ONE, "2": "2", "3": "3", "4": FOUR, "M": MANY}


@pytest.mark.parametrize("role", ROLES)
def test_every_bound_action_keeps_a_key_of_its_own(role: Role):
    names = [name for key in BOUND.of(role) for name in key.keys]
    assert len(names) == len(set(names))
    assert [key.action for key in BOUND.of(role)] == [key.action for key in Keys.standard().of(role)]


@pytest.mark.parametrize(
    ("written", "name"),
    [
        ("F2", "f2"),
        ("f12", "f12"),
        ("+", "plus"),
        ("add", "plus"),
        ("plus", "plus"),
        (".", "full_stop"),
        ("Space", "space"),
        ("↑", "up"),
        ("Up", "up"),
        ("Q", "q"),
        ("é", "é"),
        ("7", "7"),
        ("full stop", "full_stop"),
    ],
)
def test_a_key_may_be_written_as_it_is_shown_or_named(written: str, name: str):
    assert key_named(written) == name


@pytest.mark.parametrize("written", ["", " ", "f13", "f0", "foo", "ctrl+a", "12", "\u202e", "²", "٣", "☺"])
def test_what_is_no_key_is_none(written: str):
    assert key_named(written) is None


def test_a_key_that_is_shown_can_be_written_so():
    for key in KEYS:
        for name in key.keys:
            assert name == "ctrl+q" or key_named(shown_key(name)) == name
    assert all(key_named(sign) == name for name, sign in SIGNS.items())


# Shown wherever a key is.


def test_key_line_tiles_header_and_help_show_the_bound_keys():
    record = opened_case()
    glance = Glance(role="cutting", who="AB", keys=BOUND, width=120, height=40)
    lines = cutting_lines(record.state, record.now_ms, glance)
    screen = "\n".join(text_of(each) for each in lines)
    assert "start not entered (4)" in screen
    assert "prompts start when the harvest is entered (4)" in screen
    tiles = next(text_of(each) for each in lines if "multi-unit" in text_of(each))
    assert tiles.split() == [ONE, "ones", "2", "twos", "3", "threes", MANY, "multi-units"]
    keys = " ".join(text_of(each) for each in key_lines(glance, 3))
    assert "* undo" in keys
    assert "F5 divide" in keys
    assert "F9 leave" in keys
    assert "u undo" not in keys
    help_rows = [text_of(row).split() for block in help_blocks(glance, ()) for row in block]
    for key in BOUND.of("cutting"):
        assert [key.shown, *key.help.split()] in help_rows
    actions = [span.action for block in help_blocks(glance, ()) for row in block for span in row]
    assert "press('asterisk')" in actions
    assert "press('u')" not in actions


def test_the_key_card_shows_the_bound_keys(settings_file: Path):
    settings_file.write_text('keys.cutting.note = ["F7"]\n')
    text = CliRunner().invoke(main, ["keys", "--role", "cutting"]).stdout
    assert "F7" in text
    assert "F7" not in CliRunner().invoke(main, ["keys", "--role", "placing"]).stdout


def test_an_action_by_its_earlier_name_is_read_and_written_by_todays(settings_file: Path):
    settings_file.write_text('# ours\n[keys.cutting]\nshift = ["F7"]  # by the door\nnote = ["F8"]\n')
    assert "F7" in CliRunner().invoke(main, ["keys", "--role", "cutting"]).stdout
    assert load_settings(settings_file, KEY_RULES).keys.cutting["hand-over"] == ("F7",)
    assert change_setting(settings_file, ("bell",), "prompts", KEY_RULES) == ()
    text = settings_file.read_text()
    assert 'hand-over = ["F7"]  # by the door' in text
    assert "# ours" in text
    assert "shift" not in text
    assert load_settings(settings_file, KEY_RULES).keys.cutting == {"hand-over": ("F7",), "note": ("F8",)}


def test_an_action_by_both_names_is_a_mistake(settings_file: Path):
    settings_file.write_text('[keys.cutting]\nshift = ["F7"]\nhand-over = ["F8"]\n')
    (problem,) = settings_problems(read_settings(settings_file), KEY_RULES)
    assert str(problem).startswith("keys.cutting.shift: is not an action of the cutting station")


# They count.


async def test_bound_keys_count_and_standard_ones_no_more(case: Path):
    async with seated(case, "cutting", clinic=clinic(cutting=CUTTING)) as seat:
        await seat.press(ONE, MANY, "9", "2")
        assert {size: dish(seat, size) for size in "12M"} == {"1": 1, "2": 1, "M": 2}
        before = seat.desk.state.seq
        await seat.press("1", "5", "m", "u")
        assert seat.desk.state.seq == before
        assert "u does nothing here. On the placing screen (F3) it is: undo." in seat.text
        await seat.press("asterisk")
        assert isinstance(seat.last(), e.EntryCorrected)


async def test_a_bound_key_is_asked_for_where_a_size_is(case: Path):
    with station(case, who="AB") as desk:
        entered(desk, c.CutGrafts(harvest="A", size="M"))
    async with seated(case, "cutting", clinic=clinic(cutting=CUTTING)) as seat:
        await seat.press("f5")
        assert f"{MANY} multi-unit" in seat.text
        await seat.press(MANY, ONE, "enter")
        event = seat.last()
        assert isinstance(event, e.GraftsDivided)
        assert (event.size, event.into) == ("M", ("1",))


async def test_a_bound_key_works_by_mouse_and_turns_pages(case: Path):
    async with seated(case, "cutting", size=(80, 12), clinic=clinic(cutting=CUTTING)) as seat:
        await seat.press("2")
        await seat.click("* undo")
        assert isinstance(seat.last(), e.EntryCorrected)
        await seat.press(WHY)
        assert "page 1 of" in seat.text
        await seat.click(f"{WHY} next page")
        assert "page 2 of" in seat.text
        await seat.press("f")
        assert "does nothing here" in seat.text


def test_a_page_may_be_turned_twice_at_once_by_its_bound_key():
    button = Button("press('a')")
    for turns, again in (("a", True), ("f", False)):
        clicks = Clicks()
        assert clicks.meant(Click(button, button, 10.0, 10.1), turns) == button
        assert (clicks.meant(Click(button, button, 10.2, 10.3), turns) == button) is again


async def test_every_screen_of_a_station_has_its_own_bindings(case: Path):
    async with seated(
        case, "cutting", clinic=clinic(placing={"note": [FREE], "role-overview": ["F6"]})
    ) as seat:
        await seat.press("f3", FREE)
        assert "Note (no names):" in seat.text
        await seat.press("escape", "f6")
        assert "OVERVIEW" in seat.text
        await seat.press("n")
        assert "Note (no names):" in seat.text


@pytest.mark.parametrize("key", ["u", MANY])
async def test_a_held_take_back_key_is_known_wherever_it_is_bound(case: Path, key: str):
    bound = clinic(cutting={"undo": [key]})
    async with seated(case, "cutting", clinic=bound) as seat:
        await seat.press("2", "2", "2", key)
        await seat.rest()
        await seat.tap(key, key, key, key, apart=0.04)
        await seat.rest()
        assert f'4 × "{key}" came faster than a hand can press' in seat.text
        assert dish(seat, "2") == 2  # a second take-back waits, since it could not be undone


async def test_a_held_key_that_types_nothing_is_set_aside_where_it_counts(case: Path):
    bound = clinic(cutting={"cut-1": ["F5"], "role-placing": ["F6"]})
    async with seated(case, "cutting", clinic=bound) as seat:
        await seat.tap(*["f5"] * 8, apart=0.04)
        await seat.rest()
        assert '8 × "f5" came faster than a hand can press' in seat.text
        await seat.press("n")
        await seat.settle()
        assert dish(seat, "1") == 0
        await seat.rest()
        await seat.press("f5", "f5")
        assert dish(seat, "1") == 2
        await seat.tap(*["f6"] * 8, apart=0.04)
        await seat.rest()
        assert "PLACING" in seat.text
        assert "set aside" not in seat.text


# What is refused.


@pytest.mark.parametrize(
    ("role", "bound", "sentence"),
    [
        (
            "cutting",
            {"undo": ["x"]},
            "keys.cutting.undo, entry 1: x is discard at the cutting station already; "
            "give another key, or another one to discard",
        ),
        (
            "cutting",
            {"note": ["a"], "break": ["A"]},
            "keys.cutting.break, entry 1: a is note at the cutting station already; "
            "give another key, or another one to note",
        ),
        (
            "overview",
            {"note": [FREE, FREE]},
            f"keys.overview.note, entry 2: {FREE} is note at the overview station already; remove it",
        ),
        (
            "placing",
            {"issue": ["7"]},
            "keys.placing.issue, entry 1: digits are always part of a number: 7; give another key",
        ),
        (
            "cutting",
            {"cut_1": ["End"]},
            "keys.cutting.cut-1, entry 1: End is what a keypad sends while NumLock is off: "
            "it can only move; give another key",
        ),
        (
            "cutting",
            {"note": ["foo"]},
            'keys.cutting.note, entry 1: "foo" is not a key; give a letter, a digit, F2 to F12, Space, '
            "an arrow, or one of + - * / . , ; =",
        ),
        (
            "cutting",
            {"noet": [FREE]},
            "keys.cutting.noet: is not an action of the cutting station; did you mean note?",
        ),
        (
            "cutting",
            {"cut_1": ["Y"]},
            "keys.cutting.cut-1, entry 1: y answers what is asked; give another key",
        ),
        ("placing", {"help": [FREE]}, "keys.placing.help: is always F1; remove it"),
        ("placing", {"place": [FREE]}, "keys.placing.place: is always Enter; remove it"),
        (
            "placing",
            {"note": ["F1"]},
            "keys.placing.note, entry 1: F1 always shows the keys; give another key",
        ),
        (
            "cutting",
            {"note": ["escape"]},
            "keys.cutting.note, entry 1: escape always cancels; give another key",
        ),
        (
            "cutting",
            {"note": ["Enter"]},
            "keys.cutting.note, entry 1: Enter always ends what is typed; give another key",
        ),
    ],
)
def test_what_would_harm_is_refused_with_one_sentence(role: Role, bound: dict[str, list[str]], sentence: str):
    assert told(role, **bound) == [sentence]


def test_two_actions_may_change_places():
    assert told("cutting", undo=["x"], discard=["u", "-"]) == []
    assert told("placing", up=["k"], count_dish=["↑"]) != []  # an arrow only moves


def test_one_letter_is_one_thing_at_all_stations():
    """``k`` is the final count: who knows it from the overview changes no dish with it elsewhere."""
    keys = Keys.standard()
    assert keys.action_for("overview", "k") == "final_count"
    assert {keys.action_for(role, "k") for role in ("cutting", "placing")} == {None}
    assert keys.elsewhere("placing", "k") == (
        "does nothing here. On the overview screen (F4) it is: final count."
    )
    assert {keys.action_for(role, "j") for role in ("cutting", "placing")} == {"count_dish"}


def test_a_clinic_that_has_bound_the_hand_counts_key_otherwise_keeps_its_settings():
    """Settings from before that key had an action: the hand count is then where it was."""
    assert told("cutting", note=["j"]) == []
    keys = Keys({"cutting": {"note": ["j"]}})
    assert keys.action_for("cutting", "j") == "note"
    assert keys.action_for("cutting", "k") == "count_dish"
    assert keys.action_for("placing", "j") == "count_dish"
    assert told("cutting", note=["k"]) == []
    assert told("cutting", note=["j"], divide=["k"]) == [
        "keys.cutting.divide, entry 1: k is count-dish at the cutting station already; "
        "give another key, or another one to count-dish"
    ]


@pytest.mark.parametrize(
    ("earlier", "today"),
    [("take-back", "undo"), ("correct", "cancel"), ("rest", "break"), ("next-lot", "next-harvest")],
)
def test_an_actions_earlier_name_binds_todays_action(settings_file: Path, earlier: str, today: str):
    settings_file.write_text(f'keys.cutting.{earlier} = ["F7"]\n')
    assert load_settings(settings_file, KEY_RULES).keys.cutting == {today: ("F7",)}
    assert today in {key.name for key in Keys.standard().of("cutting")}


def test_an_action_of_another_role_is_unknown_here():
    (sentence,) = told("overview", cut_1=["1"])
    assert sentence.startswith("keys.overview.cut-1: is not an action of the overview station")


SOME_KEYS = [*"abcdhjuxz0159+-", "End", "F1", "F5", "Space", "Enter", "↑", "foo"]


@given(
    st.sampled_from(ROLES),
    st.dictionaries(
        st.sampled_from([key.name for key in KEYS]),
        st.lists(
            st.sampled_from([*"abcdhjuxz0159+-", "End", "F1", "F5", "Space", "Enter", "↑", "foo"]), max_size=3
        ),
        max_size=5,
    ),
)
def test_bindings_without_a_problem_keep_every_key_single_and_every_counting_key_safe(
    role: Role, bound: dict[str, list[str]]
):
    if settings_problems({"keys": {role: bound}}, KEY_RULES):
        return
    keys = Keys({role: bound})
    names = [name for key in keys.of(role) for name in key.keys]
    assert len(names) == len(set(names))
    assert keys.action_for(role, "f1") == "help"
    assert not {"escape"} & set(names)
    for name in NUMLOCK_OFF & set(names):
        assert keys.action_for(role, name) in {"up", "down", "left", "right"}
    if role == "placing":
        assert not set("0123456789") & set(names)
        assert keys.action_for(role, "enter") == "place"
