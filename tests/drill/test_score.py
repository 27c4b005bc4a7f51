"""Sheets and scores: the same sheet everywhere, and of slips of our own exactly those, where they are."""

from __future__ import annotations

from math import exp, log, sqrt
from statistics import fmean, stdev

import pytest
from cases import MORNING_MS
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace
from scipy import stats
from trainees import STATION, WHO, begun, counted, enter, enter_line, other_size, through

from orroom.case import commands as c
from orroom.case.parts import plain_table
from orroom.case.plan import Plan
from orroom.drill.case import CODE, entries_before, plan_of
from orroom.drill.making import FIRST_PROMPT, sheet_of
from orroom.drill.score import LEFT_BEFORE_END, Score, score
from orroom.drill.sheet import KINDS, LEVELS, Item, Kind, Sheet
from orroom.drill.times import typical
from orroom.drill.words import AT_A_FAULT, ELSEWHERE, better, score_text, sheet_text
from orroom.figures.prompts import prompts
from orroom.files.checker import checked
from orroom.files.plan_rules import RULES

SEEDS = st.integers(1, 9999)
ALL = [(kind, level) for kind in KINDS for level in LEVELS]
#: What each level has built in, by kind; from level 2 on a prompt too.
BUILT_IN = {
    "cutting": ({"dropped graft", "undo"}, {"wrong size", "held key"}, {"new reader"}),
    "placing": ({"dropped graft", "undo"}, {"wrong zone", "held key"}, {"new reader"}),
    "count": ({"dropped graft", "undo"}, {"wrong harvest", "held key"}, {"new reader"}),
}
#: The first lines of sheet 417 of level 2, as they were first made.
RECORDED = {
    "cutting": ["one", "two", "two", "three", "no, there was no graft: undo it", "one"],
    "placing": [
        "lane a: 6 twos, hairline",
        "lane d: 4 twos, hairline",
        "lane a: 2 threes, frontal",
        "no, those 2 threes are in the crown: correct it",
        "lane a: 3 twos, frontal",
        "lane d: 6 threes, frontal",
    ],
    "count": [
        "harvest A, dish, ones: 18",
        "no, those are harvest B's; harvest A's are still to come",
        "harvest A, dish, multi: 38",
        "harvest A, dish, ones: 16",
        "harvest A, placers, threes: 6",
        "harvest B, placers, ones: 5",
    ],
}
CUTTING_7 = ["one", "two", "two", "one", "multi", "two", "three", "one"]


def slips(found: Score) -> list[tuple[str, int]]:
    return [(each.kind, each.line) for each in found.slips]


def plain_lines(sheet: Sheet) -> list[int]:
    """Lines with nothing built in, nor right before or after them, and well apart."""
    found: list[int] = []
    for number in range(2, len(sheet.lines) - LEFT_BEFORE_END):
        around = sheet.lines[number - 2 : number + 1]
        plain = all(each.fault is None and each.struck is None for each in around)
        if plain and number - (found[-1] if found else 0) >= 3:
            found.append(number)
    return found


@pytest.mark.parametrize(("kind", "level"), ALL)
@given(seed=SEEDS)
def test_every_level_has_what_is_built_in_and_no_less_than_the_one_before(kind: Kind, level: int, seed: int):
    sheet = sheet_of(kind, level, seed)
    built_in = {line.fault for line in sheet.lines if line.fault}
    assert built_in == set().union(*BUILT_IN[kind][:level])
    assert sheet.prompt_seconds == (FIRST_PROMPT[kind] if level > 1 else None)
    for number, item in sheet.struck():
        after = sheet.lines[number].asks
        assert item not in after
        assert sheet.lines[number].fault in {
            "undo",
            "wrong size",
            "wrong zone",
            "wrong harvest",
            "dropped graft",
        }


def test_a_seed_is_a_sheet_on_every_machine():
    """Recorded once: whoever changes how sheets are made gives every number another sheet."""
    first = {kind: [line.says for line in sheet_of(kind, 2, 417).lines[:6]] for kind in KINDS}
    assert first == RECORDED
    assert sheet_of("cutting", 1, 7) == sheet_of("cutting", 1, 7)
    assert len({sheet_text(sheet_of("cutting", 1, seed)) for seed in range(1, 100)}) == 99


@pytest.mark.parametrize(("kind", "level"), ALL)
def test_a_sheet_can_be_printed_and_says_that_it_is_a_drill(kind: Kind, level: int):
    sheet = sheet_of(kind, level, 7)
    text = sheet_text(sheet)
    assert max(map(len, text.splitlines())) <= 79
    assert text.startswith(f"DRILL  {kind} · level {level} · sheet 7\n")
    assert "Nothing here is of a patient." in text
    for line in sheet.lines:
        assert line.says in " ".join(text.split())
    assert len(text.splitlines()) < 60  # a page of A4
    assert ("Prompts come" in text) == (level > 1)


@pytest.mark.parametrize(("kind", "level"), ALL)
@given(seed=SEEDS)
def test_the_case_of_a_sheet_is_sound_and_marked(kind: Kind, level: int, seed: int):
    plan = plan_of(sheet_of(kind, level, seed))
    assert checked(plain_table(plan), Plan, RULES) == (plan, [])
    assert plan.case == CODE
    assert plan.title == f"drill: {kind} {level}, sheet {seed}"
    assert "nothing here is of a patient" in plan.cautions[0]


@pytest.mark.parametrize(("kind", "level"), ALL)
@given(seed=SEEDS)
def test_a_sheet_entered_as_it_is_read_scores_no_slip(kind: Kind, level: int, seed: int):
    sheet = sheet_of(kind, level, seed)
    record = through(sheet)
    found = score(sheet, record.state)
    assert slips(found) == []
    assert (found.asked, found.left, found.set_right) == (len(sheet.asked()), None, 0)
    assert found.wait is not None
    assert record.open_mismatches() == {}


@pytest.mark.parametrize("level", LEVELS)
@given(seed=SEEDS, data=st.data())
def test_slips_of_batches_are_found_where_they_were_made(level: int, seed: int, data: st.DataObject):
    sheet = sheet_of("placing", level, seed)
    made = {
        line: data.draw(st.sampled_from(("", "missed", "doubled", "wrong"))) for line in plain_lines(sheet)
    }
    at = {
        what: [line for line, each in made.items() if each == what] for what in ("missed", "doubled", "wrong")
    }
    wrong = {line: another(sheet.lines[line - 1].asks[0]) for line in at["wrong"]}
    found = score(sheet, through(sheet, at["missed"], at["doubled"], wrong).state)
    assert slips(found) == [(what, line) for line, what in made.items() if what]
    for kind, lines in at.items():
        share = found.share(kind)  # type: ignore[arg-type]
        assert share is not None
        assert (share.count, share.of) == (len(lines), len(sheet.asked()))


def another(batch: Item) -> Item:
    """A batch that is nowhere on a sheet."""
    return replace(batch, count=batch.count + 20)


@pytest.mark.parametrize("level", LEVELS)
@given(seed=SEEDS, data=st.data())
def test_of_sizes_no_more_slips_are_found_than_were_made(level: int, seed: int, data: st.DataObject):
    """Which of several ones was missed nobody can say, only how few slips explain what was entered."""
    sheet = sheet_of("cutting", level, seed)
    made = {
        line: data.draw(st.sampled_from(("", "missed", "doubled", "wrong"))) for line in plain_lines(sheet)
    }
    at = {
        what: [line for line, each in made.items() if each == what] for what in ("missed", "doubled", "wrong")
    }
    wrong = {line: other_size(sheet.lines[line - 1].asks[0]) for line in at["wrong"]}
    found = score(sheet, through(sheet, at["missed"], at["doubled"], wrong).state)
    assert len(found.slips) <= sum(map(bool, made.values()))
    more = len(at["doubled"]) - len(at["missed"])
    too_many = sum(each.kind in {"doubled", "added"} or each.asked is None for each in found.slips)
    assert too_many - sum(each.kind == "missed" for each in found.slips) == more


def test_slips_of_sizes_are_named_with_their_line_and_entry():
    sheet = sheet_of("cutting", 1, 7)
    assert [line.says for line in sheet.lines[:8]] == CUTTING_7
    found = score(sheet, through(sheet, missed=[3], doubled=[6]).state)
    assert slips(found) == [("missed", 3), ("doubled", 6)]
    found = score(sheet, through(sheet, instead={4: Item("cut", "M")}).state)
    (slip,) = found.slips
    assert (slip.kind, slip.line, slip.differs) == ("wrong", 4, ("size",))
    assert slip.entry is not None


def left_as_it_was(sheet: Sheet, fault: str) -> tuple[Score, int]:
    """The score of somebody who does nothing at the line with this fault, and its number."""
    number = next(each for each, line in enumerate(sheet.lines, 1) if line.fault == fault)
    return score(sheet, through(sheet, missed=[number]).state), number


@pytest.mark.parametrize(
    ("kind", "fault"),
    [("cutting", "undo"), ("cutting", "wrong size"), ("placing", "undo"), ("placing", "wrong zone")],
)
@given(seed=SEEDS)
def test_what_was_not_set_right_is_named_by_the_line_that_asks_it(kind: Kind, fault: str, seed: int):
    sheet = sheet_of(kind, 2, seed)
    found, number = left_as_it_was(sheet, fault)
    assert slips(found) == [("not set right", number)]
    assert better(found, sheet) == AT_A_FAULT[fault]  # type: ignore[index]


def test_a_batch_left_in_the_wrong_zone_differs_in_its_zone():
    found, _ = left_as_it_was(sheet_of("placing", 2, 7), "wrong zone")
    assert found.slips[0].differs == ("zone",)


def test_a_slip_of_ones_own_that_was_undone_is_no_slip():
    sheet = sheet_of("cutting", 1, 7)
    record = begun(sheet)
    for line in sheet.lines[:2]:
        enter_line(record, sheet, line)
    enter(record, Item("cut", "M"))
    record.enter(c.TakeBack(role="cutting"), WHO, station=STATION)
    for line in sheet.lines[2:]:
        enter_line(record, sheet, line)
    found = score(sheet, record.state)
    assert (slips(found), found.set_right) == ([], 1)


def test_lines_that_a_new_reader_repeats_and_that_are_entered_again_are_doubled():
    sheet = sheet_of("cutting", 3, 7)
    number = next(each for each, line in enumerate(sheet.lines) if line.fault == "new reader")
    record = begun(sheet)
    for line in sheet.lines[:number]:
        enter_line(record, sheet, line)
    enter(record, *[item for line in sheet.lines[number - 2 : number] for item in line.asks])
    for line in sheet.lines[number:]:
        enter_line(record, sheet, line)
    found = score(sheet, record.state)
    assert [each.kind for each in found.slips] == ["doubled", "doubled"]
    assert better(found, sheet) == AT_A_FAULT["new reader"]


def test_a_held_key_that_was_counted_is_a_graft_entered_again_and_again():
    sheet = sheet_of("cutting", 2, 7)
    number = next(each for each, line in enumerate(sheet.lines, 1) if line.fault == "held key")
    record = begun(sheet)
    for place, line in enumerate(sheet.lines, 1):
        enter_line(record, sheet, line)
        if place == number:
            enter(record, *list(line.asks) * 15)
    found = score(sheet, record.state)
    assert slips(found) == [("doubled", number)] * 15
    assert better(found, sheet) == AT_A_FAULT["held key"]
    assert "15 of 29, 52 %" in score_text(found, sheet)


def test_several_in_one_go_are_as_many_as_were_read():
    sheet = sheet_of("cutting", 1, 7)
    record = begun(sheet)
    run = next(n for n, line in enumerate(sheet.lines) if line.asks and line.asks == sheet.lines[n + 1].asks)
    for line in sheet.lines[:run]:
        enter_line(record, sheet, line)
    twice = c.CutGrafts(harvest="A", size=sheet.lines[run].asks[0].size, count=2)
    record.enter(twice, WHO, station=STATION)
    for line in sheet.lines[run + 2 :]:
        enter_line(record, sheet, line)
    assert slips(score(sheet, record.state)) == []


@pytest.mark.parametrize("kind", ["cutting", "placing"])
@given(seed=SEEDS, left=st.integers(0, 8))
def test_a_drill_left_half_way_is_scored_as_far_as_it_went(kind: Kind, seed: int, left: int):
    sheet = sheet_of(kind, 1, seed)
    until = next(n for n in range(left, 12) if n == 0 or sheet.lines[n - 1].asks)
    record = through(sheet, until=until)
    found = score(sheet, record.state)
    assert (found.left, slips(found)) == (until, [])
    assert found.asked == sum(len(line.asks) for line in sheet.lines[:until])
    assert "unfinished" in score_text(found, sheet)


def test_a_last_line_that_was_missed_is_missed_and_the_drill_not_left():
    sheet = sheet_of("cutting", 1, 7)
    found = score(sheet, through(sheet, until=len(sheet.lines) - 1).state)
    assert (found.left, slips(found)) == (None, [("missed", len(sheet.lines))])


def test_a_count_in_a_wrong_row_is_wrong_in_both():
    sheet = sheet_of("count", 1, 7)
    asked = dict(sheet.asked())
    one, other = sorted(asked)[0:2]
    swapped = {
        one: replace(asked[one], count=asked[other].count),
        other: replace(asked[other], count=asked[one].count),
    }
    found = score(sheet, through(sheet, instead=swapped).state)
    assert [(each.kind, each.differs) for each in found.slips] == [("wrong", ("count",))] * 2


def test_a_count_that_was_not_corrected_is_not_set_right():
    sheet = sheet_of("count", 1, 7)
    line, item = next((line, item) for line, item in sheet.struck())
    found = score(sheet, through(sheet, instead={line + 1: item}).state)
    assert slips(found) == [("not set right", line + 1)]


def test_a_count_that_nobody_entered_is_unfinished():
    sheet = sheet_of("count", 3, 7)
    assert score(sheet, begun(sheet).state).left == 0
    record = begun(sheet)
    first = [item for _, item in sheet.asked() if item.by == 1]
    counted(record, first, "RS")
    found = score(sheet, record.state)
    assert (found.asked, slips(found)) == (len(first), [])
    assert found.left == next(n for n, line in enumerate(sheet.lines) if line.fault == "new reader")


# Pace and prompts.


def test_a_typical_time_is_what_a_library_of_statistics_says():
    seconds = [1.2, 0.8, 2.5, 1.9, 1.1]
    found = typical(seconds)
    assert found is not None
    logs = [log(each) for each in seconds]
    low, high = stats.t.interval(0.95, len(logs) - 1, fmean(logs), stdev(logs) / sqrt(len(logs)))
    assert found.seconds == pytest.approx(stats.gmean(seconds))
    assert found.range is not None
    assert (found.range.low, found.range.high) == pytest.approx((exp(low), exp(high)))
    assert typical([]) is None
    alone = typical([3.0])
    assert alone is not None
    assert (alone.seconds, alone.range) == (pytest.approx(3.0), None)


def test_pace_leaves_out_the_change_of_reader_and_when_nobody_was_there():
    sheet = sheet_of("cutting", 3, 7)
    record = begun(sheet)
    for number, line in enumerate(sheet.lines):
        record.wait(60 if line.fault == "new reader" else 0)
        enter_line(record, sheet, line)
        if number == 8:
            record.wait(60)
            record.enter(c.JoinStation(role="cutting"), WHO, station=STATION)
    found = score(sheet, record.state)
    assert found.wait is not None
    assert 1 <= found.wait.seconds < 1.5  # a second a line; two or three where something was set right
    assert found.wait.range is not None
    assert found.wait.range.high < 2


def test_how_long_prompts_waited():
    sheet = sheet_of("cutting", 2, 7)
    record = begun(sheet)
    (prompt,) = prompts(record.state, MORNING_MS)
    assert prompt.due_at_ms == MORNING_MS + FIRST_PROMPT["cutting"] * 1000
    enter_line(record, sheet, sheet.lines[0])
    record.now_ms = prompt.due_at_ms
    record.enter(c.GiveCare(care="wet"), WHO, station=STATION, at_ms=prompt.due_at_ms + 12_000)
    for line in sheet.lines[1:]:
        enter_line(record, sheet, line)
    found = score(sheet, record.state)
    assert found.answer is not None
    assert (found.answer.seconds, found.answer.of, found.unanswered) == (pytest.approx(12), 1, 0)
    record.wait(1)
    enter(record, Item("cut", "1"))
    assert score(sheet, record.state).unanswered == 1
    assert "1 answer, after 12.0 s; 1 not answered" in score_text(score(sheet, record.state), sheet)


def test_a_prompt_answered_before_it_was_due_waited_for_nobody():
    sheet = sheet_of("cutting", 2, 7)
    record = begun(sheet)
    record.enter(c.GiveCare(care="wet"), WHO, station=STATION)
    found = score(sheet, record.state)
    assert (found.answer, found.unanswered) == (None, 0)


@pytest.mark.parametrize(("kind", "level"), ALL)
def test_a_score_fits_a_terminal_and_says_one_thing_to_do(kind: Kind, level: int):
    sheet = sheet_of(kind, level, 7)
    text = score_text(score(sheet, through(sheet).state), sheet)
    assert max(map(len, text.splitlines())) <= 79
    assert len(text.splitlines()) <= 24
    asked = len(sheet.asked())
    assert f"{asked} of {asked} entered as read." in text
    assert text.count("Next time: ") == 1
    assert "independent" not in text
    assert "log-normal" in text
    assert f"missed   0 of {asked}, 0 %, range 0 % to " in text


def test_the_range_of_a_share_is_wilsons():
    """0 of 23: upper end z²/(n + z²) = 14.3 % (E. B. Wilson, J Am Stat Assoc 1927;22:209, from memory)."""
    sheet = sheet_of("cutting", 1, 7)
    assert len(sheet.asked()) == 23
    z = stats.norm.ppf(0.975)
    share = score(sheet, through(sheet).state).share("missed")
    assert share is not None
    assert share.wilson is not None
    assert share.wilson.high == pytest.approx(z * z / (23 + z * z))
    assert "range 0 % to 14 %" in score_text(score(sheet, through(sheet).state), sheet)


def test_every_kind_of_slip_has_its_advice():
    sheet = sheet_of("placing", 1, 7)
    line = plain_lines(sheet)[0]
    for what, made in {
        "missed": {"missed": [line]},
        "doubled": {"doubled": [line]},
        "wrong": {"instead": {line: another(sheet.lines[line - 1].asks[0])}},
    }.items():
        found = score(sheet, through(sheet, **made).state)  # type: ignore[arg-type]
        assert better(found, sheet) == ELSEWHERE[what]
    assert "take level 2" in better(score(sheet, through(sheet).state), sheet)


def test_nothing_of_what_was_there_before_is_the_trainees():
    sheet = sheet_of("count", 1, 7)
    assert len(entries_before(sheet, MORNING_MS)) > 5
    assert score(sheet, begun(sheet).state).asked == 0
