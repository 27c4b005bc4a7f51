"""Text that means harm, at every border: it is refused or shown as plain characters, and never obeyed."""

from __future__ import annotations

import unicodedata
from pathlib import Path

import pytest
from cases import Record, opened_case, small_plan
from click.testing import CliRunner
from hypothesis import given, settings
from hypothesis import strategies as st
from stations import new_case
from textual.app import ComposeResult

from orroom.case import commands as c
from orroom.case import events as e
from orroom.case.rules import Refusal
from orroom.case.terms import MAX_TEXT, ROLES, Role, clean, hidden_character, visible
from orroom.cli import main
from orroom.formats.csv_text import harmless
from orroom.record.case_file import CaseFile
from orroom.screens.stations import questions
from orroom.screens.stations.views.frame import Glance
from orroom.screens.terminal import asking
from orroom.screens.terminal.app import TerminalApp
from orroom.screens.terminal.board import Board
from orroom.screens.terminal.painting import Span, text_of

ESC = "\x1b"
HOSTILE = (
    "[/b]",
    "[@click=app.quit]x[/]",
    f"{ESC}[2J",
    f"{ESC}]52;c;bm8=\x07",
    f"{ESC}]0;title\x07",
    "\x9b2J",
    "a\u202eb",
    "a\u200bb",
    "\x00",
    "\x7f",
    "x" * 10_000,
    "e" + "\u0301" * 50,
    "=1+1",
    "| a | b |",
    "<script>alert(1)</script>",
)
ANY_TEXT = st.one_of(st.sampled_from(HOSTILE), st.text(max_size=300))


def painted_by(record: Record, role: Role) -> str:
    """Every character that a screen of this role sends, as the board makes it."""
    import importlib

    paint = getattr(importlib.import_module(f"orroom.screens.stations.views.{role}"), f"{role}_lines")
    lines = paint(record.state, record.now_ms, Glance(role=role, who="AB", width=120, height=40))
    return "\n".join(visible(text_of(each)) for each in lines)


@settings(max_examples=150)
@given(ANY_TEXT)
def test_a_text_is_kept_clean_or_refused_and_no_screen_sends_a_control(text: str):
    record = opened_case()
    for command in (
        c.AddNote(text=text),
        c.CorrectEntry(entry=1, reason=text),
        c.CheckSpot(subject="cutting", looked_at=5, faulty=1, fault=text),
        c.RevisePlan(plan=small_plan(), reason=text),
    ):
        answer = record.ask(command)
        if isinstance(answer, Refusal):
            continue
        kept = getattr(answer.event, "text", None) or getattr(answer.event, "reason", None) or ""
        assert hidden_character(kept) is None
        assert len(kept) <= MAX_TEXT
        assert kept == clean(kept)
    for role in ROLES:
        sent = painted_by(record, role)
        assert not [each for each in sent if unicodedata.category(each) in {"Cc", "Cf"} and each != "\n"]


@pytest.mark.parametrize("text", [each for each in HOSTILE if hidden_character(each)])
def test_text_with_hidden_characters_is_refused_by_name(text: str):
    refusal = opened_case().refusal(c.AddNote(text=text))
    assert refusal.rule == "refuse_unreadable_text"
    assert "U+" in refusal.right


@pytest.mark.parametrize("text", HOSTILE)
def test_a_question_takes_no_hidden_character(text: str):
    question = asking.Question(questions.note())
    for character in text:
        question.press(character, character)
    assert len(question.typed) <= MAX_TEXT
    assert not [each for each in question.typed if unicodedata.category(each) == "Cc"]


@pytest.mark.parametrize("text", HOSTILE)
def test_a_record_changed_by_other_hands_sends_no_control_either(text: str, tmp_path: Path):
    case = new_case(tmp_path / "case.orroom")
    record = opened_case()
    note = e.Entry(2, record.stamp(), e.NoteAdded(text=text))
    with CaseFile.open(case) as case_file, case_file.turn():
        case_file.append([note])
    for arguments in (
        ["summary", str(case)],
        *(["summary", str(case), "--format", f] for f in ("md", "json", "html")),
    ):
        result = CliRunner().invoke(main, arguments)
        assert result.exit_code == 0, result.output
        assert not [
            each for each in result.output if unicodedata.category(each) in {"Cc", "Cf"} and each != "\n"
        ]
    record.take(note.event)
    for role in ROLES:
        sent = painted_by(record, role)
        assert not [each for each in sent if unicodedata.category(each) in {"Cc", "Cf"} and each != "\n"]


async def test_the_board_sends_no_control_whatever_it_is_given():
    class Shown(TerminalApp[None]):
        def compose(self) -> ComposeResult:
            yield Board()

    async with Shown("dark").run_test(size=(60, 20)) as pilot:
        board = pilot.app.query_one(Board)
        board.show([(Span(text[:50]),) for text in HOSTILE])
        await pilot.pause()
        sent = "".join(board.render_line(row).text for row in range(len(HOSTILE)))
    assert "[@click=app.quit]x[/]" in sent
    assert not [each for each in sent if unicodedata.category(each) in {"Cc", "Cf"}]


@given(st.text(max_size=40))
def test_no_cell_of_a_table_is_run_by_a_spreadsheet(text: str):
    # OWASP, CSV injection: cells that begin with = + - @ tab or carriage return.
    assert harmless(text)[:1] not in set("=+-@\t\r")
