"""The help of a screen: why something was refused comes first, then keys, then what the numbers mean."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from cases import case_under_way, small_plan
from seats import Seat, seated
from stations import entered, new_case, station

from orroom.case import commands as c
from orroom.case import events as e
from orroom.case.rules import RULES, Refusal
from orroom.case.terms import ROLES, Role
from orroom.figures.pace.rest_of_day import foretold
from orroom.screens.stations.over import pages
from orroom.screens.stations.views.cutting import cutting_lines
from orroom.screens.stations.views.frame import Glance, Reading
from orroom.screens.stations.views.overview import overview_lines
from orroom.screens.stations.views.pages import help_blocks, page_lines
from orroom.screens.stations.views.placing import placing_lines
from orroom.screens.terminal.pages import AROUND, paged
from orroom.screens.terminal.painting import text_of, width_of, wrapped
from orroom.words.screen_numbers import meanings_of

SIZES = [(80, 24), (120, 40), (200, 60), (40, 12), (30, 10)]
CAUTION = "be careful"


def help_of(role: Role, size: tuple[int, int] = (80, 24), refusal: Refusal | None = None) -> list[list[str]]:
    """The pages of a role's help, as rows of text."""
    glance = Glance(role=role, who="AB", width=size[0], height=size[1], refusal=refusal)
    pages = paged(help_blocks(glance, (CAUTION,)), size[1] - AROUND)
    return [[text_of(each) for each in page] for page in pages]


def refusal() -> Refusal:
    return case_under_way().refusal(c.CutGrafts(harvest="A", size="9", count=1))


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("role", ROLES)
def test_every_number_and_mark_of_the_screen_is_told(role: Role, size: tuple[int, int]):
    whole = " ".join(" ".join(row for page in help_of(role, size) for row in page).split())
    for each in meanings_of(role):
        assert f"{each.shown} {each.means}" in whole


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("role", ROLES)
def test_why_something_was_refused_is_first_and_whole_and_names_no_rule(role: Role, size: tuple[int, int]):
    found = refusal()
    pages = help_of(role, size, found)
    assert "The last entry was refused" in pages[0][0]
    begun = "".join("".join(row.split()) for row in pages[0])
    for words in (found.sentence, found.right):
        assert "".join(words.split()) in begun
    assert "refuse_" not in begun
    assert found.rule in {rule.__name__ for rule in RULES}


@pytest.mark.parametrize("role", ROLES)
def test_nothing_is_said_of_a_refusal_where_there_was_none(role: Role):
    assert "refused" not in " ".join(row for row in help_of(role)[0])


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("role", ROLES)
def test_keys_come_before_numbers_before_cautions_and_all_fits(role: Role, size: tuple[int, int]):
    rows = [row for page in help_of(role, size) for row in page]
    at = [
        next(n for n, row in enumerate(rows) if words in row) for words in ("Space", "What the num", CAUTION)
    ]
    assert at == sorted(at)
    glance = Glance(role=role, who="AB", width=size[0], height=size[1])
    numbers = [each for block in help_blocks(glance, ()) for each in block if not any(s.action for s in each)]
    assert [text_of(each) for each in numbers if width_of(each) > size[0]] == []


def test_the_names_in_the_help_are_on_the_screens():
    record = case_under_way()
    record.enter(c.FinishSegment(harvest="A"))
    record.enter(c.FinishSegment(harvest="A"))
    record.enter(c.IssueGrafts(size="1", count=5))
    record.enter(c.MakeSites(zone="LINE", count=50))
    for minutes in range(1, 5):
        record.wait(minutes)
        record.enter(c.PlaceGrafts(zone="LINE", size="1", count=5))
    paint = {"cutting": cutting_lines, "placing": placing_lines, "overview": overview_lines}
    examples = {
        "large",
        "oldest harvest",
        "69 %",
        "60/140",
        "38/40 /cm²",
        "for 40 s",
        "sites free",
        "142/140 ▲2",
        "603/h by 3",
        "probably",
    }
    for role in ROLES:
        known = foretold(record.state, record.now_ms)
        glance = Glance(role=role, who="AB", width=160, height=45, foretold=known)
        text = "\n".join(text_of(each) for each in paint[role](record.state, record.now_ms, glance))
        for each in meanings_of(role):
            if each.shown not in examples and not set(each.shown) & set("◷○≠■"):
                assert each.shown in text, (role, each.shown)


def test_keys_of_sizes_that_the_plan_lacks_are_not_told():
    glance = Glance(role="cutting", who="AB", width=120, height=40)
    of_all, of_some = (
        " ".join(text_of(row) for block in help_blocks(glance, (), sizes=sizes) for row in block)
        for sizes in ("1234M", small_plan().size_by_key)
    )
    assert "one graft of 4 hairs" in of_all
    assert "one graft of 4 hairs" not in of_some
    assert "one graft of 3 hairs" in of_some


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("role", ROLES)
def test_the_last_page_says_that_the_key_leads_back_and_no_other_does(role: Role, size: tuple[int, int]):
    glance = Glance(role=role, who="AB", width=size[0], height=size[1])
    pages = paged(help_blocks(glance, (CAUTION,)), size[1] - AROUND)
    for number in range(len(pages)):
        glance.reading = Reading("help", number)
        bar = text_of(page_lines(glance, "Keys", "F1", pages)[-1])
        assert ("F1 back" in bar) is (number == len(pages) - 1)
        assert ("F1 next page" in bar) is (number < len(pages) - 1)
        assert "Esc back" in bar


async def test_the_last_refusal_is_explained_until_something_else_is_said(tmp_path: Path):
    case = new_case(tmp_path / "case.orroom")
    with station(case) as desk:
        entered(desk, c.StartHarvest(harvest="A", minutes_ago=30))
    async with seated(case, "cutting") as seat:
        await seat.press("u")
        assert "✗" in seat.text
        await seat.press("f1")
        assert "The last entry was refused" in seat.text
        assert "refuse_" not in seat.text  # the name of a rule is for who reads the code
        assert " 1 " in seat.text
        await seat.press("escape", "2", "f1")
        assert "refused" not in seat.text
        assert seat.screen.glance.reading is not None


# The help over a question.

#: Keys that open a question at a role, what is then asked, and what a hand types of the answer.
OPENED: tuple[tuple[Role, tuple[str, ...], str, tuple[str, ...]], ...] = (
    ("cutting", ("h",), "Harvest:", ()),
    ("cutting", ("j",), "Counted by hand:", ()),
    ("cutting", ("j", "1", "2", "1"), "grafts found", ("4", "7")),
    ("cutting", ("n",), "Note (no names):", ("f", "question_mark", "a")),
    ("placing", ("w",), "Who is at work?", ()),
    ("placing", ("s",), "Who takes over from AB?", ("c", "d")),
    ("overview", ("c",), "Cancel which entry?", ("1", "2")),
    ("overview", ("k",), "Who counts?", ()),
    ("overview", ("q",), "Leave this station?", ()),
)


def joined(text: str) -> str:
    """What stands on a screen, without how it is broken into rows."""
    return " ".join(text.split())


async def helped(seat: Seat, *, by_key: bool) -> list[str]:
    """The pages of the help, opened and left by F1; between them turned ``by_key``, or only painted."""
    question, read = seat.screen.glance.question, []
    await seat.press("f1")
    while (reading := seat.screen.glance.reading) is not None:
        assert seat.screen.glance.question is question
        read.append(seat.text)
        if by_key or "F1 back" in read[-1]:
            await seat.press("f1")
        else:
            seat.screen.glance.reading = Reading("help", reading.page + 1)
            seat.screen.repaint()
    return read


@pytest.mark.parametrize(("role", "keys", "asked", "typed"), OPENED)
async def test_over_a_question_the_help_tells_it_and_leads_back_to_it(
    tmp_path: Path, role: Role, keys: tuple[str, ...], asked: str, typed: tuple[str, ...]
):
    case = new_case(tmp_path / "case.orroom")
    with station(case) as desk:
        entered(desk, c.StartHarvest(harvest="A", minutes_ago=30))
    async with seated(case, role) as seat:
        await seat.press(*keys)
        await seat.press(*typed)
        question, seq = seat.screen.glance.question, seat.desk.state.seq
        assert question is not None
        for size in ((80, 24), (40, 12), (30, 10)):
            await seat.pilot.resize_terminal(*size)
            await seat.settle()
            seat.at += 1  # the key that opened it once more is an answer, and no habit
            before = seat.text
            assert asked in joined(before)
            read = await helped(seat, by_key=size == (80, 24))
            assert seat.text == before
            assert asked in joined(read[0])
            whole = joined(" ".join("\n".join(page.split("\n")[2:-1]) for page in read))
            for option in getattr(question.step, "options", ()):
                assert f"{option.key} {option.label}" in whole
            for each in meanings_of(role):
                assert f"{each.shown} {each.means}" in whole
            assert f"After answering, keys of the {role} screen:" in whole
            await seat.press("f1", "escape")
            assert seat.text == before
            assert seat.screen.glance.question is question
            assert seat.desk.state.seq == seq


@pytest.mark.parametrize(("key", "of"), [("f1", "help_blocks"), ("f", "figure_blocks")])
async def test_pages_are_made_once_for_each_key(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, key: str, of: str
):
    made: list[object] = []
    blocks_of = getattr(pages, of)
    monkeypatch.setattr(pages, of, lambda *about: made.append(about) or blocks_of(*about))
    async with seated(new_case(tmp_path / "case.orroom"), "cutting", size=(60, 12)) as seat:
        monkeypatch.setattr(seat.app, "repaint", lambda: None)  # as the clock goes on
        for number in (1, 2):
            await seat.press(key)
            assert len(made) == number
            assert f"page {number} of" in seat.text.split("\n")[0]
        await seat.press("escape")
        assert len(made) == 2


async def test_a_key_over_the_help_of_a_question_is_its_answer(tmp_path: Path):
    case = new_case(tmp_path / "case.orroom")
    async with seated(case, "cutting") as seat:
        await seat.press("n", "o", "f1", "f", "f1", "question_mark", "f1", "3", "f1", "enter")
        assert seat.last() == e.NoteAdded(text="of?3")
        assert seat.desk.state.tally.held("cut") == 0


async def test_an_answer_in_the_help_can_be_clicked_and_a_key_of_the_screen_can_not(tmp_path: Path):
    case = new_case(tmp_path / "case.orroom")
    async with seated(case, "cutting", size=(80, 60)) as seat:
        await seat.press("h", "f1")
        await seat.click("undo your last tap here")
        assert seat.screen.glance.reading is not None
        await seat.click(" 1  ")
        assert seat.screen.glance.reading is None
        assert "how many minutes ago" in seat.text


@pytest.mark.parametrize(
    ("role", "keys", "size"),
    [
        ("cutting", "n", (80, 24)),
        ("cutting", "n", (40, 12)),
        ("placing", "w", (80, 24)),
        ("overview", "k1", (40, 12)),
        ("overview", "k1", (30, 10)),
    ],
)
async def test_where_there_is_room_the_help_of_a_question_or_a_count_is_one_click_away(
    tmp_path: Path, role: Role, keys: str, size: tuple[int, int]
):
    case = new_case(tmp_path / "case.orroom")
    async with seated(case, role, size=size) as seat:
        await seat.press(*keys)
        before = seat.text
        await seat.click("F1", lowest=True)
        assert seat.screen.glance.reading is not None
        await seat.click("Esc back")
        assert seat.text == before


async def test_keys_set_aside_offer_no_help_before_they_are_answered(tmp_path: Path):
    case = new_case(tmp_path / "case.orroom")
    async with seated(case, "cutting") as seat:
        await seat.tap(*"2222", apart=0.03)
        await seat.rest()
        assert "Count 4 keys set aside?" in seat.text
        assert "F1" not in seat.text
        await seat.press("f1")
        assert seat.screen.glance.reading is None
        assert "waits for the answer" in joined(seat.text)
        await seat.press("n")
        assert seat.screen.glance.reading is not None  # the tap waited, and is not lost


async def test_what_asks_to_leave_is_seen_over_a_help(tmp_path: Path):
    case = new_case(tmp_path / "case.orroom")
    async with seated(case, "cutting") as seat:
        await seat.press("f1")
        await seat.tap("ctrl+q")
        await seat.settle()
        assert "Leave this station?" in seat.text
        assert "Keys of the cutting screen" not in seat.text


@pytest.mark.parametrize("size", [(1, 1), (2, 3), (12, 10), (14, 2), (29, 9)])
@pytest.mark.parametrize(("role", "keys"), [("cutting", ("h",)), ("placing", ()), ("overview", ("k", "1"))])
async def test_no_help_opens_unseen_where_a_terminal_is_too_small_for_it(
    tmp_path: Path, role: Role, keys: tuple[str, ...], size: tuple[int, int]
):
    async with seated(new_case(tmp_path / "case.orroom"), role, size=size) as seat:
        await seat.press(*keys)
        asked = seat.screen.glance.question
        for key in ("f1", "f1", *(() if asked else ("f",))):
            await seat.press(key)
            assert seat.screen.glance.reading is None
        assert seat.screen.glance.question is asked
        await seat.press("escape")
        assert seat.screen.glance.question is None


@pytest.mark.parametrize("width", range(-3, 8))
def test_a_text_is_wrapped_whole_in_however_few_columns(width: int):
    rows = wrapped("Esc closes this page", width)
    assert "".join(rows).replace(" ", "") == "Escclosesthispage"
    assert all(len(row) <= max(1, width) for row in rows)


@pytest.mark.parametrize("size", [(80, 24), (120, 40), (60, 18), (40, 12)])
async def test_how_figures_are_worked_out_says_where_and_when(tmp_path: Path, size: tuple[int, int]):
    case = new_case(tmp_path / "case.orroom")
    async with seated(case, "cutting", "AB", size=size) as seat:
        await seat.press("f")
        title = seat.text.split("\n")[0]
        assert re.search(r"\d\d:\d\d:\d\d", title), title
        assert ("SMALL-1" in title) == (size[0] > 40)
        assert ("cutting AB" in title) == (size[0] > 50)
        if size[0] >= 80:
            assert "keys that count still count, and close this" in seat.text
        assert "any other key" not in seat.text
