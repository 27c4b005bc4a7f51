"""The clinic's file of people's figures, a person's page and a meeting's: who sees what, what is gone."""

from __future__ import annotations

import json
import os
import random
import re
import sqlite3
import subprocess
import sys
from collections import Counter
from itertools import permutations
from pathlib import Path

import pytest
from cases import UNCOUNTED, Record, opened_case
from click.testing import CliRunner, Result
from rich.cells import cell_len

from orroom.case import commands as c
from orroom.case.events import FaultFound
from orroom.cli import main
from orroom.errors import OrroomError
from orroom.figures.quality import SPOILT, TRANSECTED
from orroom.formats.chart import Chart, Line, Marks
from orroom.formats.html import html
from orroom.formats.markdown import markdown
from orroom.people.agreement import Pair
from orroom.people.from_case import CHECKED, Figure, figures_of
from orroom.people.meeting_page import FEWEST_LETTERS, meeting_page
from orroom.people.own_page import own_page
from orroom.people.people_file import PeopleFile
from orroom.people.team import OfPerson, Steps, of_team
from orroom.record.case_file import CaseFile
from orroom.recording import record_all

SAMPLES = Path(__file__).parents[2] / "sample_cases"
DAYS = (4, "2026-01-05", "2026-03-05")
PLACING = CHECKED["placing"]
CUTTING = CHECKED["cutting"]
#: Seven people and how many of how many, case after case; initials that no word has.
TEAM: Steps = {
    (TRANSECTED, ""): {
        "QA": [(12, 400), (15, 380)],
        "QB": [(3, 390), (2, 410)],
        "QC": [(40, 400), (38, 395)],
        "QD": [(10, 300)],
        "QE": [(9, 310), (11, 350), (8, 290)],
        "QF": [(0, 60)],
        "QG": [(16, 420), (13, 400)],
    }
}
TEAM_PEOPLE = frozenset(TEAM[TRANSECTED, ""])
RANKING = re.compile(
    r"\b(rank|best|worst|top|bottom|place \d|\d(st|nd|rd|th)\b|percentile|league|winner)", re.I
)


def orroom(*arguments: object) -> Result:
    return CliRunner().invoke(main, [str(each) for each in arguments])


def said(*arguments: object) -> str:
    done = orroom(*arguments)
    assert done.exit_code == 0, done.output
    return done.output


def checked_day() -> Record:
    """A day on which QXZ7 cut and placed, CD checked, and somebody looked at their own work."""
    record = opened_case()
    record.enter(c.StartHarvest(harvest="A", minutes_ago=0), "EF")
    record.enter(c.CutGrafts(harvest="A", size="2", count=50), "QXZ7")
    record.enter(c.CutGrafts(harvest="A", size="2", count=30), "AB")
    record.enter(c.DiscardGrafts(size="2", reason="transected", harvest="A", count=2), "QXZ7")
    record.enter(c.DiscardGrafts(size="2", reason="dropped", harvest="A", count=1), "QXZ7")
    record.enter(c.PlaceGrafts(zone="FRONT", size="2", count=40), "QXZ7")
    faults = (FaultFound(fault="zigzag blunder", count=2), FaultFound(fault="turned", count=1))
    look = {"subject": "placing", "zone": "FRONT", "looked_at": 20}
    record.enter(c.CheckSpot(**look, faulty=3, faults=faults, whose="QXZ7"), "CD")
    record.enter(c.CheckSpot(**look, faulty=0, whose="QXZ7"), "AB")
    record.enter(c.CheckSpot(**look, faulty=7, fault="turned", whose="QXZ7"), "QXZ7")
    record.enter(c.CheckSpot(**look, faulty=9, fault="turned"), "CD")
    wrong = record.enter(c.CheckSpot(**look, faulty=5, fault="turned", whose="QXZ7"), "CD")
    record.enter(c.CorrectEntry(entry=wrong.seq, reason="typed twice"), "CD")
    return record


def closed(path: Path, record: Record) -> Path:
    record.enter(c.SignOff(second="CD", **UNCOUNTED), "EF")
    with CaseFile.create(path) as case_file:
        record_all(case_file, list(record.state.log), str(path))
    return path


@pytest.fixture
def case(tmp_path: Path) -> Path:
    (tmp_path / "case").mkdir()
    return closed(tmp_path / "case" / "ONE.orroom", checked_day())


@pytest.fixture
def path(settings_file: Path) -> Path:
    """Where the file is without --file."""
    return settings_file.with_name("people.sqlite")


def filled(path: Path, steps: Steps = TEAM) -> Path:
    """A file with a team's figures, the pages of all of them seen."""
    with PeopleFile(path, make=True) as file:
        cases = max(len(each) for people in steps.values() for each in people.values())
        for number in range(cases):
            figures = [
                Figure(who, measure, fault, *theirs[number])
                for (measure, fault), people in steps.items()
                for who, theirs in people.items()
                if number < len(theirs)
            ]
            file.add(f"case {number}", "seal", f"2026-01-{5 + number:02}", figures)
        for who in file.people():
            file.show(who)
    return path


def no_shuffle(people: list[OfPerson]) -> None:
    """Leaves them as they are."""


def meeting_of(steps: Steps, shuffle: object = no_shuffle, **changes: object) -> str:
    given = {"seen": TEAM_PEOPLE, "pairs": {}, "shuffle": shuffle, **changes}
    return markdown(meeting_page(DAYS, of_team(steps), **given))  # type: ignore[arg-type]


def letters(page: str) -> list[list[str]]:
    """The cells of the rows under letters."""
    rows = [[cell.strip() for cell in line.split("|")[1:-1]] for line in page.splitlines() if "|" in line]
    return [row for row in rows if re.fullmatch("[A-Z]{1,2}", row[0])]


# What is taken from a case.


def test_a_persons_figures_are_those_entered_and_found_by_others():
    found = {
        (each.who, each.measure, each.fault): (each.count, each.of)
        for each in figures_of(checked_day().state)
    }
    assert found == {
        ("QXZ7", TRANSECTED, ""): (2, 53),
        ("QXZ7", SPOILT, ""): (3, 53),
        ("AB", TRANSECTED, ""): (0, 30),
        ("AB", SPOILT, ""): (0, 30),
        ("QXZ7", PLACING, ""): (3, 40),
        ("QXZ7", PLACING, "zigzag blunder"): (2, 40),
        ("QXZ7", PLACING, "turned"): (1, 40),
    }


def test_what_nobody_entered_is_left_out_and_no_zero():
    record = opened_case()
    record.enter(c.StartHarvest(harvest="A", minutes_ago=0), "EF")
    record.enter(c.CutGrafts(harvest="A", size="2", count=50), "AB")
    assert figures_of(record.state) == ()


def test_figures_of_the_sample_day_are_those_in_its_file(tmp_path: Path):
    """Counted again from the text of the events, without any of our figures."""
    events = SAMPLES / "frontal-midscalp" / "events.jsonl"
    said("import", events, tmp_path / "DAY.orroom")
    said("people", "add", tmp_path / "DAY.orroom", "--file", tmp_path / "people.sqlite")
    expected: dict[str, Counter[str]] = {}
    entries = [json.loads(line) for line in events.read_text("utf-8").splitlines()]
    cancelled = {each["event"]["entry"] for each in entries if each["kind"] == "entry_corrected"}
    for each in entries:
        event = each["event"]
        if each["kind"] != "spot_checked" or each["seq"] in cancelled:
            continue
        if event.get("whose") not in {None, each["who"]}:
            found = expected.setdefault(f"{event['whose']} {event['subject']}", Counter())
            found.update(looked_at=event["looked_at"], faulty=event["faulty"])
    with PeopleFile(tmp_path / "people.sqlite") as file:
        steps = file.steps()
    mine = {
        f"{who} {subject}": Counter(looked_at=theirs[0][1], faulty=theirs[0][0])
        for subject, measure in CHECKED.items()
        for who, theirs in steps[measure, ""].items()
    }
    assert len(mine) > 3
    assert mine == expected


# The file.


def test_it_is_for_one_account_wherever_it_is_made(case: Path, path: Path):
    before = os.umask(0)
    try:
        assert "added: AB, QXZ7." in said("people", "add", case)
    finally:
        os.umask(before)
    assert path.stat().st_mode & 0o777 == 0o600
    path.chmod(0o644)
    said("people", "list")
    assert path.stat().st_mode & 0o777 == 0o600


def test_a_case_is_only_read_and_nothing_is_put_next_to_it(case: Path, path: Path):
    exported = said("export", case, "-")
    before = {each.name: each.read_bytes() for each in case.parent.iterdir()}
    said("people", "add", case)
    said("people", "show", "QXZ7")
    after = {each.name: each.read_bytes() for each in case.parent.iterdir()}
    ours = {".orroom", ".seal"}
    assert {name: text for name, text in after.items() if Path(name).suffix in ours} == {
        name: text for name, text in before.items() if Path(name).suffix in ours
    }
    assert path.parent != case.parent
    assert said("export", case, "-") == exported


def test_it_names_no_case(case: Path, path: Path):
    said("people", "add", case)
    kept = path.read_bytes()
    assert b"QXZ7" in kept
    for word in (b"SMALL-1", b"a small case", b"ONE.orroom", b"typed twice"):
        assert word not in kept


def test_only_closed_cases_are_taken_and_each_once(case: Path, tmp_path: Path):
    with CaseFile.create(tmp_path / "OPEN.orroom") as case_file:
        record_all(case_file, list(checked_day().state.log), "OPEN")
    done = orroom("people", "add", case, tmp_path / "OPEN.orroom")
    assert done.exit_code == 1
    assert "OPEN.orroom is not signed off" in done.stderr
    assert "1 of 2 cases were not added" in done.stderr
    assert "is there already" in said("people", "add", case)
    assert re.search(r"^QXZ7 +1 case ", said("people", "list"), re.MULTILINE)


@pytest.mark.parametrize("what", ["case", "text", "link"])
def test_another_file_is_refused_and_left_alone(case: Path, tmp_path: Path, what: str):
    other = {"case": case, "text": tmp_path / "notes.txt", "link": tmp_path / "link"}[what]
    if what == "text":
        other.write_text("mine", "utf-8")
        other.chmod(0o644)
    if what == "link":
        other.symlink_to(filled(tmp_path / "theirs"))
    before = other.read_bytes()
    done = orroom("people", "add", case, "--file", other)
    assert done.exit_code == 1
    assert "is not a file of people's figures" in done.stderr or "symbolic link" in done.stderr
    assert other.read_bytes() == before
    assert what != "text" or other.stat().st_mode & 0o777 == 0o644


def test_a_newer_format_is_refused(path: Path):
    db = sqlite3.connect(filled(path))
    db.execute("PRAGMA user_version = 9")
    db.close()
    done = orroom("people", "list")
    assert done.exit_code == 1
    assert "has format 9. This version knows format 1." in done.stderr


def test_without_a_file_the_first_step_is_said():
    done = orroom("people", "show", "AB")
    assert done.exit_code == 1
    assert "does not exist. It is made by the first orroom people add CASE." in done.stderr


# Who leaves.


def test_of_who_leaves_no_byte_stays(path: Path):
    gone = [Figure("QXZ7", PLACING, f"zigzag {number:04}", 1, 20) for number in range(400)]
    with PeopleFile(path, make=True) as file:
        file.add("a", "seal", "2026-01-05", [Figure("QXZ7", PLACING, "", 3, 20), *gone])
        file.add(
            "b", "seal", "2026-01-06", [Figure("AB", PLACING, "", 1, 20), Figure("QXZ7", PLACING, "", 2, 20)]
        )
        file.show("QXZ7")
        file.agree("QXZ7", "AB", Pair(1, 2, 3, 4))
    assert path.read_bytes().count(b"zigzag") == 400
    before = path.stat().st_size
    assert "QXZ7 is deleted" in said("people", "remove", "QXZ7")
    kept = path.read_bytes()
    assert b"QXZ7" not in kept
    assert b"zigzag" not in kept
    assert len(kept) < before
    assert [each.name for each in path.parent.iterdir()] == [path.name]
    with PeopleFile(path) as file:
        assert file.people() == {"AB": 1}
        assert file.pairs() == {}
        assert file.seen() == frozenset()


def test_what_a_changed_case_had_is_overwritten_too(path: Path):
    """Whole pages come free, which are not packed: without overwriting they would keep what was in them."""
    had = [Figure("AB", PLACING, f"zigzag {number:04}", 1, 20) for number in range(400)]
    with PeopleFile(path, make=True) as file:
        file.add("a", "one", "2026-01-05", had)
        file.add("a", "two", "2026-01-05", [Figure("AB", PLACING, "turned", 1, 20)])
    assert b"zigzag" not in path.read_bytes()


def test_cases_are_in_order_of_their_days_not_of_when_they_were_added(path: Path):
    with PeopleFile(path, make=True) as file:
        for day, count in (("2026-03-01", 3), ("2026-01-01", 1), ("2026-02-01", 2), ("2026-02-01", 4)):
            file.add(f"{day} {count}", "seal", day, [Figure("AB", TRANSECTED, "", count, 20)])
        assert file.steps()[TRANSECTED, ""]["AB"] == [(1, 20), (2, 20), (4, 20), (3, 20)]


def test_who_left_does_not_come_back_with_a_changed_case(tmp_path: Path, path: Path):
    record = checked_day()
    first = closed(tmp_path / "ONE.orroom", record)
    said("people", "add", first)
    said("people", "remove", "QXZ7")
    record.enter(c.ReopenCase(reason="one more"), "EF")
    record.enter(c.CutGrafts(harvest="A", size="2", count=10), "AB")
    again = closed(tmp_path / "AGAIN.orroom", record)
    assert "added: AB." in said("people", "add", again)
    assert b"QXZ7" not in path.read_bytes()
    with PeopleFile(path) as file:
        assert file.steps()[TRANSECTED, ""] == {"AB": [(0, 40)]}


def test_somebody_can_be_left_out(case: Path, path: Path):
    assert "added: AB." in said("people", "add", case, "--without", "qxz7")
    assert b"QXZ7" not in path.read_bytes()


def test_nobody_unknown_is_deleted_or_shown(path: Path):
    filled(path)
    for verb in ("remove", "show"):
        done = orroom("people", verb, "ZZ")
        assert done.exit_code == 1
        assert "nothing about ZZ" in done.stderr
    assert orroom("people", "show", "A B").exit_code == 2


# A person's own page.


def test_an_own_page_has_nobody_else_on_it(path: Path):
    page = markdown(own_page("QA", DAYS, of_team(TEAM), {}))
    assert set(re.findall(r"\bQ[A-G]\b", page)) == {"QA"}
    assert "| QA   |    27 of 780, 3.5 % |" in page
    assert "| team | 177 of 4,505, 3.9 % |" in page


def test_an_own_page_says_nothing_of_a_place_among_others():
    """It is the same whoever of the others has which figures."""
    others = TEAM[TRANSECTED, ""]
    names = [who for who in others if who != "QA"]
    pages = set()
    for order in ([0, 1, 2, 3, 4, 5], [5, 4, 3, 2, 1, 0], [2, 0, 1, 5, 3, 4]):
        moved = {"QA": others["QA"]} | {names[to]: others[names[place]] for place, to in enumerate(order)}
        page = markdown(own_page("QA", DAYS, of_team({(TRANSECTED, ""): moved}), {}))
        pages.add(page)
        assert RANKING.search(page) is None
    assert len(pages) == 1


def test_of_two_people_neither_sees_the_other():
    two = {
        (PLACING, ""): {"QA": [(1, 40)], "QB": [(9, 33)]},
        (PLACING, "turned"): {"QA": [(1, 40)], "QB": [(0, 33)]},
    }
    page = markdown(own_page("QA", DAYS, of_team(two), {}))
    assert "1 of 40, 2.5 %, in 1 case; range 0.0–27.9 %." in page
    assert "Fewer than 3 people have figures" in page
    assert "What was wrong: turned 1." in page
    assert "| turned" not in page
    for theirs in ("QB", "33", "73", "10 of", "team has"):
        assert theirs not in page


def test_a_fault_that_two_people_had_is_not_compared_though_its_measure_is():
    team = {
        (PLACING, ""): {"QA": [(2, 40)], "QB": [(9, 33)], "QC": [(3, 50)]},
        (PLACING, "turned"): {"QA": [(1, 40)], "QB": [(7, 33)]},
    }
    page = markdown(own_page("QA", DAYS, of_team(team), {}))
    assert "What was wrong: turned 1." in page
    assert "| turned" not in page


def test_the_cases_needed_are_worked_out_from_what_grafts_of_one_case_are_worth():
    """2 cases of 20, alike by .05, are worth 20.5 grafts: so many cases more than if they were worth 40."""
    team = of_team({(PLACING, ""): {"QA": [(1, 20), (2, 20)], "QB": [(2, 40)], "QC": [(3, 40)]}})
    page = " ".join(markdown(own_page("QA", DAYS, team, {})).split())
    found = re.search(r"takes ([\d,]+) independent grafts, which is some ([\d,]+) cases", page)
    assert found is not None
    grafts, cases = (int(each.replace(",", "")) for each in found.groups())
    mine = team[0].of_person("QA")
    assert mine is not None
    assert mine.worth < 40
    assert cases == -(-grafts * 2 // mine.worth)


def test_none_found_says_what_is_not_excluded():
    team = {(PLACING, ""): {"QA": [(0, 20)], "QB": [(2, 40)], "QC": [(3, 40)]}}
    page = " ".join(markdown(own_page("QA", DAYS, of_team(team), {})).split())
    found = of_team(team)[0].of_person("QA")
    assert found is not None
    assert found.worth == pytest.approx(20 / 1.95)  # twenty of one case, alike by .05
    assert "0 of 20 excludes only shares above 25 %: grafts of one case are alike." in page


def test_a_chart_at_its_limit_says_to_look_and_how_seldom_chance_does_that():
    risen = {**TEAM[TRANSECTED, ""], "QA": [(90, 400)] * 6}
    page = " ".join(markdown(own_page("QA", DAYS, of_team({(TRANSECTED, ""): risen}), {})).split())
    assert re.search(r"At its limit after case [\d, ]*6: look for the reason", page)
    assert re.search(r"once in 20\d cases on average", page)
    assert "1 of 500 who work like the team" in page


def test_several_charts_have_several_false_alarms():
    both = {**TEAM, (SPOILT, ""): TEAM[TRANSECTED, ""]}
    page = " ".join(markdown(own_page("QA", DAYS, of_team(both), {})).split())
    assert "has 2 running charts. By chance alone one of them is at its limit about once in 100 cases" in page


def test_agreement_of_two_is_on_both_pages_and_nameless_in_a_meeting(path: Path):
    filled(path)
    assert (
        "QA and QB, these alone: the same verdict on 48 of 50 grafts; kappa 0.65, range 0.19 to 0.90"
        in said("people", "agree", "qa", "QB", "--both", 2, "--first", 1, "--second", 1, "--neither", 46)
    )
    said("people", "agree", "QB", "QA", "--both", 2, "--first", 3, "--second", 1, "--neither", 44)
    with PeopleFile(path) as file:
        assert file.pairs() == {("QA", "QB"): Pair(4, 2, 4, 90)}
    for who, there in (("QA", True), ("QB", True), ("QC", False)):
        assert ("QA and QB: the same verdict on 94 of 100 grafts" in said("people", "show", who)) == there
    page = said("people", "meeting")
    assert "Two checkers: the same verdict on 94 of 100 grafts" in page
    assert re.search(r"\bQ[A-G]\b", page) is None
    done = orroom("people", "agree", "QA", "QA", "--both", 2, "--first", 1, "--second", 1, "--neither", 46)
    assert done.exit_code == 2


# A meeting.


def test_a_meeting_sees_letters_and_no_initials(path: Path):
    filled(path)
    page = said("people", "meeting")
    assert re.search(r"\bQ[A-G]\b", page) is None
    assert [row[0] for row in letters(page)] == list("ABCDEFG")
    assert RANKING.search(page) is None


def test_letters_say_nothing_of_the_figures():
    """The order is the shuffle's alone: whoever has which figures, a letter is the same person."""
    people = sorted(TEAM_PEOPLE)
    for seed in range(4):
        order = [*people]
        random.Random(seed).shuffle(order)
        for moved in list(permutations(people))[:5040:1700]:
            steps = {who: TEAM[TRANSECTED, ""][other] for who, other in zip(people, moved, strict=True)}
            page = meeting_of({(TRANSECTED, ""): steps}, random.Random(seed).shuffle)
            team = of_team({(TRANSECTED, ""): steps})[0]
            counted = [team.of_person(who) for who in order]
            assert [row[1] for row in letters(page)] == [
                f"{100 * each.share:.1f} %" for each in counted if each is not None
            ]


def test_every_order_of_letters_comes_up():
    five = {who: TEAM[TRANSECTED, ""][who] for who in sorted(TEAM_PEOPLE)[:5]}
    firsts = Counter(
        letters(meeting_of({(TRANSECTED, ""): five}, random.Random(seed).shuffle))[0][1] for seed in range(60)
    )
    assert len(firsts) == 5


def test_a_command_draws_letters_again_each_time(path: Path):
    filled(path)
    orders = {tuple(row[1] for row in letters(said("people", "meeting"))) for _ in range(6)}
    assert len(orders) > 1


def test_each_measure_has_letters_of_its_own():
    both = {**TEAM, (SPOILT, ""): TEAM[TRANSECTED, ""]}
    rows = letters(meeting_of(both, random.Random(1).shuffle))
    first, second = [row[1] for row in rows[:7]], [row[1] for row in rows[7:]]
    assert sorted(first) == sorted(second)
    assert first != second


def test_a_letter_is_nobodys_initials():
    steps = {"A": [(1, 50)], "C": [(2, 50)], **{f"Q{each}": [(2, 60)] for each in "ABC"}}
    page = meeting_of({(TRANSECTED, ""): steps}, seen=frozenset(steps))
    assert [row[0] for row in letters(page)] == list("BDEFG")


@pytest.mark.parametrize("number", [FEWEST_LETTERS - 1, FEWEST_LETTERS])
def test_letters_are_shown_from_five_on(number: int):
    steps = {who: TEAM[TRANSECTED, ""][who] for who in sorted(TEAM_PEOPLE)[:number]}
    page = meeting_of({(TRANSECTED, ""): steps})
    assert len(letters(page)) == (number if number >= FEWEST_LETTERS else 0)
    assert ("of fewer they would be guessed" in page) == (number < FEWEST_LETTERS)
    assert "Team: " in page


def test_of_two_people_a_meeting_sees_nothing():
    page = meeting_of({(TRANSECTED, ""): {"QA": [(3, 77)], "QB": [(9, 33)]}})
    assert "these are for their own pages" in page
    assert not {"77", "33", "110"} & set(re.findall(r"\d+", page))


def test_who_has_not_seen_the_own_page_gets_no_letter(path: Path):
    filled(path)
    with PeopleFile(path) as file:
        file.add("new", "seal", "2026-02-01", [Figure("QA", TRANSECTED, "", 1, 100)])
    assert "QA       3 cases  own page not seen with the newest case" in said("people", "list")
    page = said("people", "meeting")
    assert len(letters(page)) == 6
    assert "1 person is in the team's figures and under no letter" in page
    said("people", "show", "QA")
    assert len(letters(said("people", "meeting"))) == 7


# Both pages.


@pytest.mark.parametrize("arguments", [("show", "QA"), ("meeting",)])
def test_pages_fit_a_terminal_and_are_drawn_as_pages(path: Path, tmp_path: Path, arguments: tuple[str, ...]):
    placing = {who: [(2, 40), (1, 25)] for who in TEAM_PEOPLE}
    turned = {who: [(1, 40)] for who in TEAM_PEOPLE}
    filled(path, {**TEAM, (PLACING, ""): placing, (PLACING, "neighbouring hair hurt"): turned})
    said("people", "agree", "QA", "QB", "--both", 2, "--first", 1, "--second", 1, "--neither", 46)
    text = said("people", *arguments)
    assert "neighbouring hair hurt" in text
    assert "It cannot say why." in text
    assert "not a medical device" in text
    assert [line for line in text.splitlines() if cell_len(line) > 80 and not line.startswith("> ")] == []
    said("people", *arguments, "--format", "html", "--output", tmp_path / "page.html")
    page = (tmp_path / "page.html").read_text("utf-8")
    assert page.count('class="narrow"') == 2
    assert (tmp_path / "page.html").stat().st_mode & 0o777 == 0o600


def test_a_funnel_has_every_letter_on_it_and_its_limits_stay_on_the_chart():
    blocks = meeting_page(DAYS, of_team(TEAM), TEAM_PEOPLE, {}, no_shuffle)
    (chart,) = [each for each in blocks if isinstance(each, Chart)]
    (marks,) = [each for each in chart.shown if isinstance(each, Marks)]
    lines = [each for each in chart.shown if isinstance(each, Line)]
    assert list(marks.words) == list("ABCDEFG")
    assert len(lines) == 4
    for x, y in [*marks.points, *(point for line in lines for point in line.points)]:
        assert 0 <= x <= chart.x[1]
        assert 0 <= y <= chart.y[1]
    assert html("page", blocks).count('class="narrow"') == 1


def test_the_list_is_in_alphabetical_order_and_has_no_figure(path: Path):
    filled(path)
    listed = said("people", "list").splitlines()
    assert [line.split()[0] for line in listed[:-1]] == sorted(TEAM_PEOPLE)
    assert all("%" not in line for line in listed)
    assert listed[-1] == "3 cases, 2026-01-05 to 2026-01-07."


def test_an_empty_file_is_said_to_be_empty(path: Path):
    with PeopleFile(path, make=True):
        pass
    assert said("people", "list") == "No cases.\n"
    assert "The team's figures" in said("people", "meeting")
    with pytest.raises(OrroomError, match="nothing about AB"):
        own_page("AB", (0, "", ""), (), {})


def test_nothing_else_loads_it():
    """A station starts without it, and what archives, exports and sums up a case knows nothing of it."""
    loads = "import sys, orroom.screens.stations.app, orroom.archive.adding, orroom.formats.summary_formats"
    loads += "; print(*sys.modules)"
    loaded = subprocess.run([sys.executable, "-c", loads], capture_output=True, text=True, check=True).stdout
    assert [each for each in loaded.split() if each.startswith("orroom.people")] == []
