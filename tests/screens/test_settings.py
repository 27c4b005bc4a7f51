"""The settings file and the screen that changes it; what rings, and when."""

from __future__ import annotations

import asyncio
import os
import stat
import time
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path

import pytest
from cases import MINUTE_MS, case_under_way, opened_case, small_plan
from click.testing import CliRunner, Result
from free_keys import free_keys
from hypothesis import given
from hypothesis import strategies as st
from seats import CHARACTERS, PACE, harvested, seated
from stations import entered, new_case
from terminals import Terminal
from textual import events
from textual.pilot import Pilot

from orroom.case import commands as c
from orroom.case.care import due_at_ms
from orroom.case.plan import Plan
from orroom.case.settings import Checks, Settings, plan_defaults
from orroom.case.terms import FAULTS, ROLES, Bell
from orroom.cli import main
from orroom.errors import OrroomError, SettingsInvalidError
from orroom.figures.prompts import prompts
from orroom.files.checker import checked
from orroom.files.settings_file import (
    change_setting,
    changed,
    load_settings,
    put_aside,
    read_settings,
    settings_path,
    settings_problems,
)
from orroom.screens.settings import pages as setting_up
from orroom.screens.settings.clinic import Clinic, this_clinic
from orroom.screens.settings.lines import Look, settings_lines
from orroom.screens.settings.screen import settings_app
from orroom.screens.settings.sheet import Sheet
from orroom.screens.terminal.asking import Choice, Number, Question
from orroom.screens.terminal.bells import PromptBell
from orroom.screens.terminal.board_app import BoardApp
from orroom.screens.terminal.hands import DOUBLE_CLICK
from orroom.screens.terminal.key_rules import KEY_RULES
from orroom.screens.terminal.keys import KEYS, key_named
from orroom.screens.terminal.painting import text_of, width_of

#: It does nothing at any station.
FREE = free_keys(*ROLES)[0]
#: Nor this one at the cutting station.
HANDY = free_keys("cutting")[0]
SIZES = [(80, 24), (120, 40), (200, 60), (40, 12), (30, 10), (60, 18)]

WHOLE = f"""\
# Ours. Ask RS before you change it.
theme = "light"  # the room is bright
bell = "taps"
cases = "~/cases"

# The team.
[[staff]]
initials = "AB"  # mornings
role = "cutting"

[[staff]]
initials = "RS"
role = "surgeon"

[[care]]
key = "wet"
label = "wet the dishes"
kind = "wet"
every_minutes = 10  # shorter than usual
grace_minutes = 1

[limits]
with_placers_seconds = 90  # the surgeon's

[keys.cutting]
undo = ["{HANDY}", "-"]  # under the left hand
"""
COMMENTS = [line.partition("#")[2] for line in WHOLE.splitlines() if "#" in line]


@pytest.fixture
def case(tmp_path: Path) -> Path:
    return new_case(tmp_path / "case.orroom")


def orroom(*arguments: object) -> Result:
    return CliRunner().invoke(main, ["settings", *map(str, arguments)])


# Reading.


def test_a_missing_file_is_the_defaults(settings_file: Path):
    assert not settings_file.exists()
    assert load_settings(settings_file, KEY_RULES) == Settings()
    clinic = this_clinic()
    assert clinic == Clinic(keys=clinic.keys)
    assert [clinic.keys.of(role) for role in ROLES] == [Clinic().keys.of(role) for role in ROLES]


def test_an_empty_file_is_the_defaults(settings_file: Path):
    settings_file.write_bytes(b"\xef\xbb\xbf\n# nothing yet\n")
    assert load_settings(settings_file, KEY_RULES) == Settings()


def test_a_whole_file_says_what_it_says(settings_file: Path):
    settings_file.write_text(WHOLE)
    found = load_settings(settings_file, KEY_RULES)
    assert (found.theme, found.bell, found.cases) == ("light", "taps", "~/cases")
    assert [(each.initials, each.role) for each in found.staff] == [("AB", "cutting"), ("RS", "surgeon")]
    assert [(each.key, each.every_minutes) for each in found.care] == [("wet", 10)]
    assert found.limits.with_placers_seconds == 90
    assert found.sizes == Settings().sizes
    assert this_clinic().keys.shown("cutting", "undo") == HANDY


def test_the_file_stands_where_the_platform_keeps_settings(monkeypatch: pytest.MonkeyPatch, tmp_path: Path):
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))
    assert settings_path({}).name == "settings.toml"
    assert settings_path({}).parent.name == "orroom"
    assert settings_path({"ORROOM_SETTINGS": "/else/where.toml"}) == Path("/else/where.toml")


def test_every_problem_at_once_in_sentences(settings_file: Path):
    settings_file.write_text(
        'theme = "pink"\nbell = true\nthme = 1\ncases = "cases"\n'
        'staff = [{initials = "ab", role = "porter"}]\n'
        '[[sizes]]\nkey = "2"\nlabel = "twos"\nhairs = 3\n'
        '[[care]]\nkey = "wet"\nlabel = "[w]"\nkind = "wet"\nevery_minutes = 0\n'
        '[limits]\nbench_seconds = "90"\n[keys.cutting]\nnote = ["u"]\n[keys.roof]\n'
    )
    with pytest.raises(SettingsInvalidError) as error:
        load_settings(settings_file, KEY_RULES)
    assert [str(each) for each in error.value.problems] == [
        'theme: "pink" is not valid; use "dark" or "light"',
        'bell: true is not valid; use "off", "prompts" or "taps"',
        'cases: is not a full path; begin it with "/" or "~", such as "~/cases"',
        'size 1 "2": hairs: 3 does not match size "2"; use 2',
        'care round 1 "wet": label: contains a square bracket; write it without [ and ]',
        'care round 1 "wet": every_minutes: 0 is not valid; use a number from 1 to 480',
        'limits.with_placers_seconds: "90" is not valid; use a whole number from 10 to 3600, '
        "without quotation marks",
        'person 1 "ab": initials: "ab" is not valid; use a capital, then up to three '
        'capitals or digits, such as "AB"',
        'person 1 "ab": role: "porter" is not valid; use "cutting", "placing", "overview", '
        '"record" or "surgeon"',
        "keys.roof: is not a known field; remove it; known here: cutting, placing, overview",
        "keys.cutting.note, entry 1: u is undo at the cutting station already; give another key, "
        "or another one to undo",
        "thme: is not a known field; did you mean theme?",
    ]
    assert str(error.value).startswith(f"{settings_file}: 12 problems in the settings")


@pytest.mark.parametrize(
    ("written", "sentence"),
    [
        ('theme = "dark', 'end of the file: text is not closed (theme = "dark)'),
        ("theme = dark", "the value is missing or unclear"),
        ("theme = 'dark'\ntheme = 'light'", "the same key is given twice"),
        ("keys = 3", "keys: 3 is not valid; use a table with cutting, placing, overview"),
        (
            "keys.cutting = 3",
            "keys.cutting: 3 is not valid; use a table, each name with a list of 1 to 4 entries",
        ),
        ("keys.cutting.note = []", "keys.cutting.note: has 0 entries; use a list of 1 to 4 entries"),
        (
            "keys.cutting.note = [3]",
            "keys.cutting.note, entry 1: 3 is not valid; use text of 1 to 20 characters",
        ),
        ("staff = 3", "staff: 3 is not valid; use 0 to 40 entries, each under its own [[staff]] heading"),
        ("sizes = []", "sizes: has 0 entries; use 1 to 5 entries"),
        ('cases = "~/a\\u202eb"', "cases: contains the invisible character U+202E"),
        ('"th\\u0007eme" = 3', "th<U+0007>eme: is not a known field"),
        (f"theme = {'[' * 3000}", "settings: is nested too deeply"),
        (f"theme = {'9' * 5000}", "settings: has a number with too many digits"),
        ('theme = "\\u001b[31m"', 'theme: "<U+001B>[31m" is not valid'),
    ],
)
def test_hostile_and_broken_files_say_what_and_where(settings_file: Path, written: str, sentence: str):
    settings_file.write_text(written)
    result = orroom("--check")
    assert result.exit_code == 2
    assert sentence in result.stderr
    assert "Traceback" not in result.stderr
    assert all(each.isprintable() for each in result.stderr.replace("\n", ""))
    clinic = this_clinic()
    assert (clinic.settings, clinic.problem) == (
        Settings(),
        "the settings have 1 problem, defaults in use: see orroom settings --check",
    )


def test_bytes_that_are_no_text(settings_file: Path):
    settings_file.write_bytes(b'theme = "dark"\n# \xff\n')
    assert "line 2: is not UTF-8 text" in orroom("--check").stderr
    with pytest.raises(SettingsInvalidError):
        change_setting(settings_file, ("theme",), "light")


def test_files_that_cannot_be_read_hold_nobody_up(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    (tmp_path / "folder").mkdir()
    (tmp_path / "big").write_bytes(b"#" * 1_000_001)
    (tmp_path / "loop").symlink_to(tmp_path / "loop")
    os.mkfifo(tmp_path / "pipe")
    for name, words in {
        "folder": "is a folder, not settings.",
        "big": "is larger than 1 MB.",
        "loop": "cannot be read",
        "pipe": "is not an ordinary file.",
    }.items():
        monkeypatch.setenv("ORROOM_SETTINGS", str(tmp_path / name))
        assert words in orroom("--check").stderr
        assert this_clinic().problem.startswith(f"defaults in use: {tmp_path / name} ")
        with pytest.raises(OrroomError, match=words):
            change_setting(tmp_path / name, ("theme",), "light")


def test_a_file_that_may_not_be_read(settings_file: Path, monkeypatch: pytest.MonkeyPatch):
    settings_file.write_text(WHOLE)

    def refused(*_: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "open", refused)  # root may read everything
    assert "is not readable" in orroom("--check").stderr
    assert "is not readable" in this_clinic().problem


@given(
    st.recursive(
        st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=5),
        lambda inner: (
            st.lists(inner, max_size=3)
            | st.dictionaries(
                st.sampled_from(
                    [*Settings.__struct_fields__, *ROLES, "note", "cut-1", "key", "label", "initials"]
                ),
                inner,
                max_size=4,
            )
        ),
        max_leaves=12,
    )
)
def test_any_tree_of_values_is_sound_or_told(value: object):
    for raw in (value if isinstance(value, dict) else {}, {"keys": value}, {"keys": {"placing": value}}):
        for problem in settings_problems(raw, KEY_RULES):
            assert problem.where
            assert problem.wrong
            assert str(problem).isprintable()


# What new plans begin with.


def test_a_plan_begins_with_the_parts_of_the_settings(settings_file: Path):
    settings_file.write_text(WHOLE)
    settings = load_settings(settings_file)
    parts = plan_defaults(settings)
    assert set(parts) == {"sizes", "care", "limits", "staff"}
    rest = {"case": "T-1", "zones": [{"key": "A", "label": "a", "area_cm2": 4.0, "targets": {"1": 9}}]}
    plan, _ = checked({**parts, **rest}, Plan)
    assert plan is not None
    assert (plan.sizes, plan.care, plan.limits, plan.staff) == (
        settings.sizes,
        settings.care,
        settings.limits,
        settings.staff,
    )


# Changing.


@pytest.mark.parametrize(
    ("loc", "value", "stands"),
    [
        (("theme",), "dark", 'theme = "dark"  # the room is bright'),
        (("bell",), None, 'cases = "~/cases"'),
        (("staff", 2), {"initials": "CD", "role": "placing"}, 'initials = "CD"'),
        (("staff", 0, "role"), "record", 'role = "record"'),
        (("staff", 1), None, 'initials = "AB"  # mornings'),
        (("care", 0, "every_minutes"), 12, "every_minutes = 12  # shorter than usual"),
        (("limits", "with_placers_seconds"), 100, "with_placers_seconds = 100  # the surgeon's"),
        (("limits", "day_hours"), 7.5, "day_hours = 7.5"),
        (("keys", "cutting", "undo"), [FREE], f'undo = ["{FREE}"]'),
        (("keys", "placing", "note"), ["F6"], '"F6"'),
    ],
)
def test_comments_survive_a_change(
    settings_file: Path, loc: tuple[str | int, ...], value: object, stands: str
):
    settings_file.write_text(WHOLE)
    before = read_settings(settings_file)
    assert change_setting(settings_file, loc, value, KEY_RULES) == ()
    text = settings_file.read_text()
    assert stands in text
    assert [each for each in COMMENTS if each not in text] == []
    assert read_settings(settings_file) == changed(before, loc, value) != before


def test_what_is_wrong_is_not_written(settings_file: Path):
    settings_file.write_text(WHOLE)
    for loc, value in (
        (("theme",), "pink"),
        (("keys", "cutting", "note"), [HANDY]),
        (("staff", 2), {"initials": "AB", "role": "placing"}),
    ):
        (problem,) = change_setting(settings_file, loc, value, KEY_RULES)
        assert problem.right
        assert settings_file.read_text() == WHOLE


def test_the_first_change_makes_the_file_for_its_owner_alone(tmp_path: Path):
    path = tmp_path / "new" / "deeper" / "settings.toml"
    assert change_setting(path, ("bell",), "prompts") == ()
    assert load_settings(path).bell == "prompts"
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert stat.S_IMODE(path.parent.stat().st_mode) & 0o077 == 0
    assert [each.name for each in path.parent.iterdir()] == ["settings.toml"]


def test_a_list_that_is_not_there_begins_as_the_defaults(settings_file: Path):
    assert change_setting(settings_file, ("care", 1), None) == ()
    defaults = Settings().care
    assert load_settings(settings_file).care == (defaults[0], defaults[2])
    assert "= 15\n" in settings_file.read_text()  # as a hand would write it


def test_a_list_can_be_emptied_and_filled_again(settings_file: Path):
    settings_file.write_text(WHOLE)
    for _ in range(2):
        assert change_setting(settings_file, ("staff", 0), None) == ()
    assert load_settings(settings_file).staff == ()
    assert change_setting(settings_file, ("staff", 0), {"initials": "GH", "role": "placing"}) == ()
    assert [each.initials for each in load_settings(settings_file).staff] == ["GH"]


def test_a_link_stays_a_link(tmp_path: Path):
    (tmp_path / "real.toml").write_text("# kept\n")
    (tmp_path / "link.toml").symlink_to(tmp_path / "real.toml")
    assert change_setting(tmp_path / "link.toml", ("theme",), "light") == ()
    assert (tmp_path / "link.toml").is_symlink()
    assert "# kept" in (tmp_path / "real.toml").read_text()


def test_a_folder_that_cannot_be_is_told(tmp_path: Path):
    (tmp_path / "file").write_text("")
    with pytest.raises(OrroomError, match="cannot be"):
        change_setting(tmp_path / "file" / "settings.toml", ("theme",), "light")


def test_a_wrong_file_is_kept_beside(settings_file: Path):
    for number in (1, 2):
        settings_file.write_text("theme = ")
        kept = put_aside(settings_file)
        assert kept.name == f"settings.toml.wrong-{number}"
        assert kept.read_text() == "theme = "
        assert not settings_file.exists()


# The command.


def test_the_command_says_where_and_whether_it_is_sound(settings_file: Path):
    assert orroom("--path").stdout == f"{settings_file}\n"
    assert orroom("--check").stdout == f"{settings_file}: no such file; the defaults are used\n"
    settings_file.write_text(WHOLE)
    assert orroom("--check").stdout == f"{settings_file}: no mistakes\n"
    assert "A station needs a terminal." in orroom().stderr


# What a station does with them.


async def test_a_station_with_a_wrong_file_starts_with_the_defaults_and_says_so(
    case: Path, settings_file: Path
):
    settings_file.write_text("theme = 3")
    async with seated(case, "cutting", clinic=this_clinic()) as seat:
        assert "✗ the settings have 1 problem, defaults in use: see orroom settings --check" in seat.text
        await seat.press("2")
        assert seat.desk.state.tally.held("dish", "2") == 1
        assert "defaults in use" not in seat.text


def rung(seat_app: object) -> list[float]:
    """When the bell rings from now on."""
    times: list[float] = []
    seat_app.bell = lambda: times.append(time.monotonic())  # type: ignore[attr-defined]
    return times


@pytest.mark.parametrize(("bell", "rings"), [("off", 0), ("prompts", 0), ("taps", 1)])
async def test_it_rings_once_a_tap_and_twice_a_take_back(case: Path, bell: Bell, rings: int):
    async with seated(case, "cutting", clinic=Clinic(Settings(bell=bell))) as seat:
        times = rung(seat.app)
        await seat.press("2", "3", "1")
        assert len(times) == 3 * rings
        times.clear()
        await seat.press("u")
        await asyncio.sleep(0.4)
        assert len(times) == 2 * rings
        assert not rings or times[1] - times[0] > 0.15
        times.clear()
        await seat.press("l", "f1", "escape", "f3")
        assert times == []
        await seat.press("enter")
        assert "✗ type how many first" in seat.text
        assert len(times) == 1  # a refusal rings as ever


@pytest.mark.parametrize(("bell", "rings"), [("off", 0), ("prompts", 1), ("taps", 1)])
async def test_a_prompt_rings_once_when_due_and_once_when_overdue(case: Path, bell: Bell, rings: int):
    harvested(case)
    async with seated(case, "overview", clinic=Clinic(Settings(bell=bell))) as seat:
        entered(seat.desk, c.GiveCare(care="wet"))
        entered(seat.desk, c.GiveCare(care="cold", temperature_c=4))
        given_ms = seat.desk.state.log[-1].stamp.at_ms
        times = rung(seat.app)
        for minutes, heard in ((14.9, 0), (15, 1), (15.1, 1), (16.9, 1), (17.1, 2), (18, 2), (25, 2)):
            seat.clock.at_ms = given_ms + round(minutes * MINUTE_MS)
            for _ in range(3):
                seat.app.repaint()
            assert (minutes, len(times)) == (minutes, heard * rings)
        await seat.press("f3", "f2", "f4")
        assert len(times) == 2 * rings


def test_what_was_due_on_arrival_is_not_rung_for_and_what_is_taken_back_not_again():
    record = case_under_way()
    bell = PromptBell()

    def rings() -> bool:
        return bell.rings([wet for wet in prompts(record.state, record.now_ms) if wet.care == "wet"])

    assert prompts(record.state, record.now_ms)[0].status == "overdue"
    assert not rings()
    given = record.enter(c.GiveCare(care="wet"))
    assert not rings()
    record.wait(14.5)
    entered_now = record.enter(c.GiveCare(care="wet"))
    assert not rings()
    record.wait(1)
    assert not rings()
    record.enter(c.CorrectEntry(entry=entered_now.seq, reason="not given"))
    assert rings()
    again = record.enter(c.GiveCare(care="wet"))
    assert not rings()
    record.enter(c.CorrectEntry(entry=again.seq, reason="not given"))
    assert not rings()  # due as before: it has rung for that
    assert given.seq < again.seq


# The screen.


class Chair:
    """Somebody before the settings."""

    def __init__(self, app: BoardApp[None], pilot: Pilot[None]) -> None:
        self.app, self.pilot = app, pilot
        self.at = time.monotonic()

    @property
    def text(self) -> str:
        return self.app.shown.board.text

    async def press(self, *keys: str) -> None:
        for key in keys:
            event = events.Key(key, CHARACTERS.get(key, key if len(key) == 1 else None))
            event.time = self.at = self.at + 2 * PACE
            self.app.post_message(event)
            await self.pilot.pause(0)
            await self.pilot.pause(0)

    async def click(self, *words: str) -> None:
        """Click where words stand lowest, by a hand that looks before it clicks."""
        for each in words:
            rows = list(enumerate(self.text.split("\n")))
            row, line = next((n, line) for n, line in reversed(rows) if each in line)
            at = time.monotonic() + DOUBLE_CLICK + 0.5
            for kind in (events.MouseDown, events.MouseUp):
                event = kind(None, line.index(each) + 1, row, 0, 0, 1, False, False, False)
                event.time = self.at = max(self.at + DOUBLE_CLICK / 2 + 0.5, at)
                event.set_sender(self.app)
                self.app.post_message(event)
            await self.pilot.pause()
            await self.pilot.pause()


@asynccontextmanager
async def sitting(path: Path, size: tuple[int, int] = (80, 24)) -> AsyncIterator[Chair]:
    app = settings_app(path)
    async with app.run_test(size=size) as pilot:
        await pilot.pause()
        yield Chair(app, pilot)


async def test_a_reminder_is_made_and_begins_where_the_clinic_wants(settings_file: Path):
    async with sitting(settings_file) as chair:
        await chair.press("right", "right", *["down"] * 3, "enter", "4", *"drink", "enter", *"90", "enter")
        assert "every 90 min" in chair.text
        await chair.press("enter", "4", "1")
        assert "every 90 min from the opening" in chair.text
        await chair.press("enter", "6", "1")
        assert "once, 90 min after the opening" in chair.text
        await chair.press("enter", "5", *"15:30", "enter")
        assert "starts is too" in chair.text
        await chair.press("escape", "enter", "6", "2")
        await chair.press("left", "escape")
    found = load_settings(settings_file, KEY_RULES).care[-1]
    assert (found.kind, found.label, found.starts, found.once) == ("reminder", "drink", "opening", None)


@pytest.mark.parametrize("size", [(80, 24), (40, 12)])
async def test_all_is_changed_by_keys_alone(settings_file: Path, size: tuple[int, int]):
    settings_file.write_text("# Ours.\n")
    async with sitting(settings_file, size) as chair:
        await chair.press("enter", "2")  # theme
        assert chair.app.theme == "orroom-light"
        await chair.press("down", "enter", "3")  # bell
        await chair.press("down", "enter", "1", *"~/ours", "enter")  # folder
        await chair.press("right", *["down"] * 4, "enter", "1", *"4.5", "enter")  # a multi-unit size
        await chair.press("3", "down", "enter", "x")  # a care round taken out
        await chair.press("enter", "2", *"20", "enter", "end")  # now the second is the temperature
        await chair.press("down", "enter", "1", *"wet all", "enter", *"12", "enter")
        await chair.press("4", "enter", *"90", "enter")
        await chair.press(*["down"] * 4, "enter", "1", *"3.5", "enter", "down", "enter", "2")
        await chair.press("pagedown", "enter", "1", *"10", "enter", *"50", "enter")
        await chair.press("5", "enter", *"ab", "enter", "1")
        await chair.press("down", "enter", *"rs", "enter", "5", "up", "enter", "2", "2")
        await chair.press("6", "down", "down", "down", "down", "down", "enter", HANDY)
        assert "saved" in chair.text
        assert "set here" in chair.text or size[0] < 60
        await chair.press("left", "escape")
    found = load_settings(settings_file, KEY_RULES)
    assert (found.theme, found.bell, found.cases) == ("light", "taps", "~/ours")
    assert found.sizes[-1].hairs == 4.5
    assert [(each.key, each.label, each.every_minutes) for each in found.care] == [
        ("wet", "wet the dishes", 15),
        ("temperature", "read the temperature", 20),
        ("wet-2", "wet all", 12),
    ]
    assert found.limits.with_placers_seconds == 90
    assert (found.limits.out_of_body_hours, found.limits.care_until) == (3.5, "end of work")
    assert found.limits.slow_tail is not None
    assert (found.limits.slow_tail.share, found.limits.slow_tail.pace) == (0.1, 0.5)
    assert [(each.initials, each.role) for each in found.staff] == [("AB", "placing"), ("RS", "surgeon")]
    assert found.keys.cutting == {"undo": (HANDY, "-")}
    assert settings_file.read_text().startswith("# Ours.\n")
    assert chair.app.return_code == 0


@pytest.mark.parametrize("size", [(80, 24), (40, 12), (30, 10)])
@pytest.mark.parametrize(
    ("keys", "asked"),
    [
        ((), "Settings: keys, rows"),
        (("enter",), "Theme:"),
        (("4", "enter", "9"), "placers: prompt after:"),
        (("6", "enter"), "press its new key"),
    ],
)
async def test_the_help_tells_keys_and_rows_and_leads_back_to_what_is_asked(
    settings_file: Path, size: tuple[int, int], keys: tuple[str, ...], asked: str
):
    async with sitting(settings_file, size) as chair:
        await chair.press(*keys)
        screen = chair.app.shown
        before, question, shown = chair.text, screen.look.question, ""
        await chair.press("f1")
        while screen.reading is not None:
            rows = chair.text.split("\n")
            shown += " ".join(rows[2:-1] if shown else rows[:-1]) + " "
            await chair.press("f1")
        assert chair.text == before
        assert screen.look.question is question
        shown = " ".join(shown.split())
        assert asked in shown
        assert "Enter asks for the row's new value" in shown
        assert "● set here" in shown
        for row in setting_up.pages(screen.sheet)[screen.look.page].rows:
            assert f"{row.name}: {row.value}" in shown
        if question is not None:
            assert "Once it is answered:" in shown
            await chair.press("f1", "8")  # closes the help and is taken as an answer
            assert screen.reading is None
            assert question.typed == ("98" if question.typed else "")
        else:
            await chair.press("f1", "escape")
            assert chair.text == before
            await chair.press("f1", "2")
            assert "2 sizes" in chair.text


async def test_a_file_that_is_wrong_has_a_help_too(settings_file: Path):
    settings_file.write_text("theme = 3")
    async with sitting(settings_file, (30, 10)) as chair:
        before = chair.text
        assert "p begin again" in before
        await chair.press("f1")
        assert "renames the file" in " ".join(chair.text.split())
        await chair.press("escape")
        assert chair.text == before


@pytest.mark.parametrize("size", [(80, 24), (120, 40)])
async def test_all_but_letters_is_changed_by_mouse_alone(settings_file: Path, size: tuple[int, int]):
    settings_file.write_text(WHOLE)
    async with sitting(settings_file, size) as chair:
        await chair.click("theme", "1: dark", "bell  ", "1: off")
        await chair.click("3 care", "wet the dishes", "2: interval", " 1 ", " 8 ", "Enter")
        await chair.click("4 limits", "the placers: prompt after", " 4 ", " 5 ", " ⌫ ", " 0 ", "Enter")
        await chair.click("5 staff", "RS  ", "2: work", "1: cutting", "AB  ", "x remove it")
        await chair.click("6 cutting keys", "undo your last tap", "⌫ as it comes")
        await chair.click("one graft of 1 hair", f" {HANDY} ")
        await chair.click("Esc leave")
    found = load_settings(settings_file, KEY_RULES)
    assert (found.theme, found.bell) == ("dark", "off")
    assert found.care[0].every_minutes == 18
    assert found.limits.with_placers_seconds == 40
    assert [(each.initials, each.role) for each in found.staff] == [("RS", "cutting")]
    assert found.keys.cutting == {"cut-1": (HANDY,)}
    assert "# the room is bright" in settings_file.read_text()


async def test_the_faults_of_checks_are_changed_added_and_as_they_come(settings_file: Path):
    settings_file.write_text("")
    async with sitting(settings_file) as chair:
        await chair.press("9", "enter", "1")
        await chair.press(*"low")
        await chair.press("enter", "down", "enter", "x")
    found = load_settings(settings_file).checks
    assert found.placing == ("low", *FAULTS["placing"][2:])
    assert found.cutting == FAULTS["cutting"]
    async with sitting(settings_file) as chair:
        await chair.click("9 checks", "add a fault of placing")
        await chair.press(*"turned")
        await chair.press("enter")
        assert "'turned' is there twice" in chair.text
        await chair.press("enter")
        await chair.press(*"bent")
        await chair.press("enter")
        assert load_settings(settings_file).checks.placing == ("low", *FAULTS["placing"][2:], "bent")
        await chair.click("bent", "s the whole list")
    assert load_settings(settings_file).checks == Checks()


def test_after_a_temperature_outside_its_band_a_new_plan_reads_again_in_five_minutes():
    """Within it after its interval of 30 minutes."""
    record = opened_case(small_plan(care=Settings().care))
    record.enter(c.StartHarvest(harvest="A"))
    for reading, minutes in ((11.0, 5), (4.0, 30), (1.5, 5)):
        given = record.enter(c.GiveCare(care="temperature", temperature_c=reading))
        assert due_at_ms(record.tally, "temperature") == given.stamp.at_ms + minutes * MINUTE_MS


def test_a_list_of_faults_has_one_to_eight_and_each_once(settings_file: Path):
    for faults, wrong in (
        ([], "has 0 entries"),
        ([str(number) for number in range(9)], "has 9 entries"),
        (["bent", "turned", "bent"], "'bent' is there twice; take one out"),
    ):
        problems = settings_problems({"checks": {"placing": faults}})
        assert wrong in str(problems[0]), problems


async def test_what_is_typed_is_checked_as_it_is_typed(settings_file: Path):
    async with sitting(settings_file) as chair:
        await chair.press("4", "enter", "9")
        assert "✗ 9 is not valid; use a whole number from 10 to 3600" in chair.text
        await chair.press("enter")
        assert "9▌" in chair.text  # not taken
        await chair.press("0")
        assert "✗" not in chair.text
        await chair.press("enter")
        assert "saved" in chair.text
        await chair.press("5", "enter", "1")
        assert '✗ "1" is not valid; use a capital' in chair.text
        await chair.press("escape")
        assert "cancelled; nothing changed" in chair.text
        await chair.press("6", "enter", "x")
        assert "✗ x is discard at the cutting station already" in chair.text
        await chair.press("home")
        assert "✗ home is what a keypad sends while NumLock is off" in chair.text
    assert load_settings(settings_file, KEY_RULES).limits.with_placers_seconds == 90
    assert load_settings(settings_file, KEY_RULES).keys == Settings().keys


async def test_a_change_by_another_hand_meanwhile_stays(settings_file: Path):
    settings_file.write_text('theme = "dark"\n')
    async with sitting(settings_file) as chair:
        settings_file.write_text('theme = "dark"\nbell = "taps"  # just now\n')
        await chair.press("enter", "2")
    assert settings_file.read_text() == 'theme = "light"\nbell = "taps"  # just now\n'


async def test_a_wrong_file_is_shown_whole_and_put_aside_only_when_asked(settings_file: Path):
    settings_file.write_text('theme = "pink"\nbell = 3\n[keys.cutting]\nnote = ["u"]\n')
    async with sitting(settings_file, (40, 12)) as chair:
        assert "Fix this file in an editor" in chair.text
        seen = chair.text
        for _ in range(12):
            await chair.press("down")
            seen += chair.text
        for word in ("pink", "bell:", "undo"):
            assert word in seen
        await chair.press("enter", "1", "z")
        assert "p puts the file aside" in chair.text
        assert settings_file.exists()
        await chair.press("p")
        assert "settings.toml.wrong-1" in chair.text
        await chair.press("up", "up", "up", "enter", "2")
        assert "saved" in chair.text
    assert load_settings(settings_file) == Settings(theme="light")


async def test_a_paste_and_a_click_beside_change_nothing(settings_file: Path):
    async with sitting(settings_file) as chair:
        await chair.press("5", "enter")
        chair.app.post_message(events.Paste("AB"))
        await chair.pilot.pause()
        assert "a paste changes nothing here" in chair.text
        await chair.click("4 limits")
        assert "a question is open" in chair.text
        await chair.press("escape", FREE)
        assert "arrows and numbers move" in chair.text
    assert not settings_file.exists()


@pytest.mark.parametrize("asked", [False, True])
def test_every_page_fills_the_terminal_and_every_row_can_be_reached(settings_file: Path, *, asked: bool):
    settings_file.write_text(WHOLE)
    found = setting_up.pages(Sheet(settings_file))
    for number, page in enumerate(found):
        for row, each in enumerate(page.rows):
            question = Question(each.dialogue()) if asked else None
            for width, height in SIZES:
                look = Look(number, row, question, width=width, height=height)
                lines = settings_lines(found, str(settings_file), None, look)
                why = (page.name, each.name, width, height)
                assert len(lines) == height, why
                assert [text_of(line) for line in lines if width_of(line) > width] == [], why
                text = "\n".join(map(text_of, lines))
                assert "▸" in text, why
                tabs = [span for line in lines for span in line if span.action.startswith("page(")]
                marked = [span.action for span in tabs if span.text.startswith("▸")]
                assert marked == [f"page({number})"] * bool(tabs), why
                assert " 1 hairs" not in text, why
                if not asked:
                    whole = " ".join(text.split())
                    assert " ".join(each.value.split()) in whole, why


@pytest.mark.parametrize("text", ["", WHOLE])
@pytest.mark.parametrize("size", [(30, 10), (40, 12)])
def test_no_two_rows_of_a_page_read_alike_on_a_small_screen(
    settings_file: Path, size: tuple[int, int], text: str
):
    settings_file.write_text(text)
    found = setting_up.pages(Sheet(settings_file))
    for number, page in enumerate(found):
        known = []
        for row, each in enumerate(page.rows):
            look = Look(number, row, width=size[0], height=size[1])
            (shown,) = [
                shown
                for shown in map(text_of, settings_lines(found, "", None, look))
                if shown.startswith("▸")
            ]
            keys = page.name.endswith(" keys")  # these begin with their keys, which is not what they do
            assert not keys or shown[2:].startswith(f"{each.name} ")
            known.append(shown[2 + len(each.name) if keys else 2 :].strip())
            assert ("●" in shown) is (each.set_here and bool(each.value))
        assert len(set(known)) == len(known), known


def test_every_action_that_may_be_bound_has_a_row(settings_file: Path):
    keys = {page.name: page for page in setting_up.pages(Sheet(settings_file))}
    for role in ROLES:
        found = [row.value for row in keys[f"{role} keys"].rows]
        for key in KEYS:
            if role in key.roles and key.action not in {"help", "place", f"role('{role}')"}:
                assert key.help in found


@pytest.mark.parametrize("role", ROLES)
def test_only_free_keys_are_offered_and_each_can_be_taken(settings_file: Path, role: str):
    sheet = Sheet(settings_file)
    (page,) = [page for page in setting_up.pages(sheet) if page.name == f"{role} keys"]
    for row in page.rows:
        question = Question(row.dialogue())
        assert isinstance(question.step, Choice)
        free = [option.key for option in question.step.options[:-1]]
        assert free
        assert all(key_named(each) == each for each in free)
    question = Question(page.rows[-1].dialogue())
    question.press("f8", None)
    assert not sheet.wrong
    assert load_settings(settings_file, KEY_RULES).keys.by_role()[role]["leave"][0] == "f8"  # type: ignore[index]


def test_a_number_that_is_not_whole_is_asked_again(settings_file: Path):
    sheet = Sheet(settings_file)
    question = Question(setting_up.pages(sheet)[3].rows[0].dialogue())
    assert isinstance(question.step, Number)
    for key in ("enter", "backspace", "x", "-"):
        question.press(key, key)
        assert not question.over
        assert question.typed == ""


# In a terminal.


def test_the_settings_open_in_a_terminal_and_are_left(settings_file: Path):
    terminal = Terminal("settings")
    try:
        terminal.until(lambda: b"SETTINGS" in terminal.seen)
        terminal.type("\r2", apart=0.2)
        terminal.until(lambda: b"saved" in terminal.seen)
        terminal.send(b"q")
        terminal.until(lambda: terminal.process.poll() is not None)
        assert terminal.process.returncode == 0
        assert load_settings(settings_file).theme == "light"
    finally:
        terminal.close()
