"""The first lines of a summary: limits that were broken, what does not add up, how the final count ended."""

from __future__ import annotations

import json
import re
from typing import Any

import pytest
from cases import MINUTE_MS, MORNING_MS, Record, opened_case, records, small_plan
from hypothesis import given
from msgspec.structs import replace
from tables import figures_in

from orroom.case import commands as c
from orroom.case.events import CountedGroup
from orroom.case.final_count import groups_to_count
from orroom.case.plan import Limits
from orroom.formats.fhir.bundle import to_fhir
from orroom.formats.json_text import to_json
from orroom.formats.summary_formats import to_markdown
from orroom.summary.sharing import shared
from orroom.summary.summary import Summary, summarise


def first_lines(summary: Summary) -> list[str]:
    page = to_markdown(summary)
    return page[page.index("## In short") : page.index("## Zones")].splitlines()[2:-1]


class Case(Record):
    """Harvest A left the body at minute 0; entries are made at minutes after."""

    def __init__(self, **limits: Any) -> None:
        super().__init__()
        plan = replace(
            small_plan(), care=(small_plan().care[2],), limits=Limits(with_placers_seconds=120, **limits)
        )
        self.at(0, c.OpenCase(plan=plan))
        self.at(0, c.StartHarvest(harvest="A"))

    def at(self, minute: float, command: c.Command, who: str = "AB") -> None:
        self.enter(command, who, at_ms=MORNING_MS + round(minute * MINUTE_MS))

    def lines(self) -> list[str]:
        return first_lines(summarise(self.state))


def test_every_limit_that_was_broken_is_named_between_the_grafts_and_the_count():
    """Ten ones with the placers for 3 of 2 min; 9.5 °C above 2 to 8; placed 3:20 out, limit 3 h."""
    case = Case(out_of_body_hours=3)
    case.at(5, c.CutGrafts(harvest="A", size="1", count=20))
    for minute, reading in ((30, 5.0), (60, 9.5), (90, 4.0), (120, 4.0), (150, 4.0), (180, 4.0)):
        case.at(minute, c.GiveCare(care="cold", temperature_c=reading))
    case.at(190, c.IssueGrafts(size="1", count=10))
    case.at(193, c.PlaceGrafts(zone="LINE", size="1", count=10))
    case.at(200, c.PlaceGrafts(zone="LINE", size="1", count=2))
    assert case.lines()[2:] == [
        "- Out of the body: half placed by 3:13, the longest 3:20.",
        "- **Out of the body beyond the limit of 3:00**: placed after up to 3:20, still waiting after 3:20.",
        "- **10 of 10 grafts with the placers beyond the limit** of 2 min 00 s, the longest 3 min 00 s.",
        "- **temperature: 1 of 6 readings out of band** (wanted 2 to 8 °C): 4.0 to 9.5 °C.",
        "- **Nobody said what was done about 3 of 3 broken limits**.",
        "- Care rounds: all 6 were on time.",
        "- The record adds up.",
    ]


def test_a_limit_that_was_kept_is_not_spoken_of():
    case = Case(out_of_body_hours=3.5)
    case.at(5, c.CutGrafts(harvest="A", size="1", count=20))
    case.at(28, c.GiveCare(care="cold", temperature_c=8))
    case.at(30, c.IssueGrafts(size="1", count=10))
    case.at(32, c.PlaceGrafts(zone="LINE", size="1", count=10))
    assert not any("limit" in line or "band" in line for line in case.lines())
    assert summarise(case.state).out_of_body_limit_ms == 210 * MINUTE_MS
    assert summarise(Case().state).out_of_body_limit_ms is None


def taken_beyond() -> Case:
    """Five ones were cut and six placed; two more than planned went into the mid-scalp."""
    case = Case()
    case.at(5, c.CutGrafts(harvest="A", size="1", count=5))
    case.at(6, c.CutGrafts(harvest="A", size="M", count=12))
    case.at(10, c.PlaceGrafts(zone="LINE", size="1", count=6))
    case.at(15, c.PlaceGrafts(zone="MID", size="M", count=12))
    return case


def test_where_a_record_does_not_add_up_is_said_in_every_format():
    summary = summarise(taken_beyond().state)
    where = "harvest A: 1 one too many taken from the dishes; mid-scalp: 2 multi-unit grafts placed over plan"
    assert first_lines(summary)[-1] == f"- **Does not add up**: {where}."
    page = to_markdown(summary)
    assert "Adds up" not in page
    assert page.count(where) == 2
    assert json.loads(to_json(summary))["adds_up"] is False
    by_size = {each.size: each.adds_up for each in summary.sizes}
    assert by_size == {"1": False, "2": True, "3": True, "M": True}
    assert [each.adds_up for each in summary.accounts] == [False, True]
    assert ("case", "", "", "adds_up", "no", "") in figures_in(summary)
    assert f"Does not add up: {where}." in to_fhir(summary, "r4b").replace("\\", "")


def test_an_explained_mismatch_does_not_make_a_count_below_0_add_up():
    case = taken_beyond()
    case.at(16, c.ExplainMismatch(mismatch="over:MID:M", text="two gaps closed"))
    case.at(17, c.ExplainMismatch(mismatch="short:dish:1:A", text="one tap forgotten"))
    wrong = "- **Does not add up**: harvest A: 1 one too many taken from the dishes."
    assert case.lines()[-1] == wrong
    case.at(18, c.CutGrafts(harvest="A", size="1"))
    assert case.lines()[-1] == "- The record adds up, 1 mismatch explained."


def test_a_hand_count_that_differs_adds_up_once_it_is_explained():
    case = Case()
    case.at(5, c.CutGrafts(harvest="A", size="1", count=5))
    case.at(6, c.CountDish(size="1", harvest="A", found=7))
    assert case.lines()[-1] == "- **Does not add up**: harvest A: 2 more ones found in a hand count."
    assert [each.adds_up for each in summarise(case.state).accounts] == [False]
    case.at(7, c.ExplainMismatch(mismatch="counted:1:A", text="two taps forgotten"))
    assert case.lines()[-1] == "- The record adds up, 1 mismatch explained."


def test_where_it_does_not_add_up_names_no_zone_where_nothing_typed_may_be_told():
    summary = shared(summarise(taken_beyond().state), "anonymous")
    where = "harvest 1: 1 one too many taken from the dishes; placed over plan"
    assert first_lines(summary)[-1] == f"- **Does not add up**: {where}."


def counted(case: Record, who: str, ones: int) -> None:
    groups = tuple(
        CountedGroup(
            size=group.size,
            harvest=group.harvest,
            place=group.place,
            found=ones if (group.size, group.place) == ("1", "dish") else 0,
        )
        for group in groups_to_count(case.state)
    )
    case.enter(c.CountAll(groups=groups, since=case.state.seq), who)


def closing() -> Case:
    """Twelve ones are left in the dishes."""
    case = Case()
    case.at(5, c.CutGrafts(harvest="A", size="1", count=20))
    case.at(10, c.PlaceGrafts(zone="LINE", size="1", count=8))
    return case


@pytest.mark.parametrize(
    ("counts", "ended"),
    [
        ((), None),
        ((12,), "- Final count: **one person counted**, AB; the second count was not made."),
        ((12, 12), "- Final count: two people's count agrees with the tally."),
        (
            (11, 10),
            "- Final count: **1 difference**: ones, harvest A, in dishes: tally 12, 11 and 10 counted.",
        ),
    ],
)
def test_how_the_final_count_ended(counts: tuple[int, ...], ended: str | None):
    case = closing()
    for who, ones in zip(("AB", "CD"), counts, strict=False):
        counted(case, who, ones)
    record, *count = case.lines()[4:]
    assert record == "- The record adds up."
    assert count == ([] if ended is None else [ended])


def test_a_count_that_no_longer_holds_and_none_at_all_are_said():
    case = closing()
    counted(case, "AB", 12)
    case.enter(c.PlaceGrafts(zone="LINE", size="1", count=1), "CD")
    assert case.lines()[-1] == "- Final count: **none valid**; grafts moved after it was made."
    assert not any("Final count" in line for line in first_lines(summarise(opened_case().state)))


def test_first_lines_never_say_that_all_is_well_beside_what_is_not():
    case = closing()
    counted(case, "AB", 11)
    counted(case, "CD", 11)
    shown = " ".join(case.lines())
    assert "1 difference" in shown
    assert "No mismatch" not in shown
    assert "agree" not in shown


#: Placed, planned, over plan, owed.
PLACED = r"- \*\*([\d,]+) of ([\d,]+) grafts? placed\*\*(?:, ([\d,]+) over plan)?, ([\d,]+) owed;"


def added_up(line: str) -> list[int]:
    """Each side of a line of sums, worked out: ``3 placed + 1 left = 4 usable: 5 cut − 1 discarded``."""
    found = []
    for side in line.removeprefix("- ").replace("*", "").replace(",", "").replace(": ", "=").split("="):
        terms = re.findall(r"(−?) ?(−?\d+)", side)
        found.append(sum((-1 if sign else 1) * int(number.replace("−", "-")) for sign, number in terms))
    return found


def test_what_was_placed_and_what_is_left_is_a_sum_that_names_all_that_was_cut():
    case = Case()
    case.at(5, c.CutGrafts(harvest="A", size="1", count=20))
    case.at(6, c.CutGrafts(harvest="A", size="2", count=10))
    case.at(7, c.DiscardGrafts(size="1", count=3, reason="dried"))
    case.at(8, c.DivideGrafts(size="2", into=("1", "1")))
    case.at(9, c.CountDish(size="1", harvest="A", found=21))
    case.at(10, c.PlaceGrafts(zone="LINE", size="1", count=12))
    assert case.lines()[1] == (
        "- **12 placed + 18 left in dishes and with the placers = 30 usable**: "
        "30 cut − 3 discarded − 1 divided + 2 pieces + 2 found by hand count."
    )
    assert added_up(case.lines()[1]) == [30, 30, 30]


def test_what_a_hand_count_did_not_find_and_what_was_taken_beyond_the_tally_is_in_the_sum_too():
    case = Case()
    case.at(5, c.CutGrafts(harvest="A", size="1", count=5))
    case.at(6, c.CountDish(size="1", harvest="A", found=4))
    case.at(7, c.PlaceGrafts(zone="LINE", size="1", count=6))
    assert case.lines()[1] == (
        "- **6 placed − 2 taken beyond the tally = 4 usable**: 5 cut − 1 not found by hand count."
    )


@given(records())
def test_the_first_lines_of_every_record_add_up(record: Record):
    lines = first_lines(summarise(record.state))
    found = [re.match(PLACED, each) for each in lines]
    ((place, numbers),) = [(at, each.groups("0")) for at, each in enumerate(found) if each]
    done, planned, over, owed = (int(each.replace(",", "")) for each in numbers)
    assert planned - done + over == owed, lines[place]
    assert len(set(added_up(lines[place + 1]))) == 1, lines[place + 1]
