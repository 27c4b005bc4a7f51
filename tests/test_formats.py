"""Every file format that was ever written goes on opening: a recorded file of each is in ``formats``."""

from __future__ import annotations

from pathlib import Path

import pytest
from stations import read_case

from orroom.case.events import NoteAdded
from orroom.case.evolve import fold
from orroom.record.encoding import event_of
from orroom.record.events_file import read_events
from orroom.record.schema import FILE_FORMAT
from orroom.record.upgrades import UPGRADES
from orroom.record.verify import verify
from orroom.reports.json_text import to_json
from orroom.reports.summary import summarise

FORMATS = Path(__file__).parent / "formats"


@pytest.mark.parametrize("number", range(1, FILE_FORMAT + 1))
def test_a_recorded_file_of_every_format_opens_and_tells_the_same_case(number: int):
    case = FORMATS / f"format-{number}.orroom"
    state = read_case(case)
    assert verify(case).sound
    assert to_json(summarise(state)) == to_json(summarise(fold(read_events(case.with_suffix(".jsonl")))))
    assert (state.tally.held("placed"), state.tally.held("dish", "3")) == (400, -1)


def test_a_body_of_an_earlier_version_is_read_as_one_of_today(monkeypatch: pytest.MonkeyPatch):
    def remark_became_text(body: dict) -> dict:
        return {"text": body["remark"]} if "remark" in body else body

    monkeypatch.setitem(UPGRADES, "note_added", (remark_became_text,))
    assert event_of("note_added", '{"remark":"ice"}') == NoteAdded(text="ice")
    assert event_of("note_added", '{"text":"ice"}') == NoteAdded(text="ice")
