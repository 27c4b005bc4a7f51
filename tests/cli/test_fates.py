"""``orroom fates``: what is left is listed by its key, and each group gets its fate in one line."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from stations import new_case, read_case

from orroom.case import commands as c
from orroom.cli import main
from orroom.cli.common import record


def orroom(*words: object) -> Result:
    return CliRunner().invoke(main, [str(word) for word in words])


@pytest.fixture
def case(tmp_path: Path) -> Path:
    path = new_case(tmp_path / "case.orroom")
    for size, count in (("1", 4), ("2", 10)):
        record(path, c.CutGrafts(harvest="A", size=size, count=count), "AB")
    record(path, c.IssueGrafts(size="2", count=3), "CD")
    return path


def given(case: Path) -> list[tuple[object, ...]]:
    return [
        (entry.stamp.who, each.size, each.count, each.drawn[0].place, each.fate, each.into_zone, each.by)
        for entry in read_case(case).log
        if (each := entry.event).kind == "fate_given"
    ]


def test_what_is_left_is_listed_by_its_key_and_nothing_is_entered(case: Path):
    shown = orroom("fates", case)
    assert shown.exit_code == 0
    assert "Left without a fate: 14 grafts" in shown.stdout
    rows = [line.split() for line in shown.stdout.splitlines()]
    assert [row[0] for row in rows[2:]] == ["dish:1:A", "dish:2:A", "bench:2:A"]
    assert given(case) == []


def test_some_are_placed_some_discarded_and_what_is_left_is_kept(case: Path):
    done = orroom(
        *("fates", case, "--who", "EF", "--by", "CD", "--reason", "dried"),
        *("--give", "dish:2:A=5 placed MID", "--give", "bench:2:A=discarded", "--give", "all=kept"),
    )
    assert done.exit_code == 0, done.output
    assert given(case) == [
        ("EF", "2", 5, "dish", "placed extra", "MID", "CD"),
        ("EF", "2", 3, "bench", "discarded", None, None),
        ("EF", "1", 4, "dish", "kept", None, None),
        ("EF", "2", 2, "dish", "kept", None, None),
    ]
    assert "No graft is left without a fate." in done.stdout
    assert "Placed beyond the plan: 5 twos in mid-scalp" in done.stdout


@pytest.mark.parametrize(
    ("give", "said"),
    [
        ("dish:2:A=keep", "Did you mean 'kept'?"),
        ("dish:2:A=", "one of kept, left-over, returned, discarded, placed"),
        ("dish:3:A=kept", "no group 'dish:3:A' is left without a fate. Left: dish:2:A"),
        ("dish:2:A=8 kept", "dish:2:A has 7; give 1 to that many, not 8"),
        ("dish:2:A=0 kept", "not 0"),
        ("dish:2:A=placed", "a zone goes with 'placed'"),
        ("dish:2:A=placed NOWHERE", "zones: LINE, FRONT, MID"),
        ("dish:2:A=kept MID", "only with it"),
        ("all=3 kept", "a number goes with one group"),
        ("dish:2:A=discarded", "need --reason"),
    ],
)
def test_what_cannot_be_meant_is_said_and_nothing_is_entered(case: Path, give: str, said: str):
    wrong = orroom("fates", case, "--who", "EF", "--give", "dish:1:A=kept", "--give", give)
    assert wrong.exit_code == 2
    assert said in wrong.stderr
    assert given(case) == []


def test_what_the_case_refuses_leaves_nothing_half_entered(case: Path):
    wrong = orroom(*("fates", case, "--who", "EF", "--by", "nobody"), "--give", "dish:1:A=kept",
                   *("--give", "dish:2:A=placed MID"))  # fmt: skip
    assert wrong.exit_code == 5
    assert "initials" in wrong.stderr
    assert given(case) == []
    assert orroom("fates", case, "--give", "all=kept").exit_code == 2


def test_while_somebody_counts_nobody_is_shown_what_is_left(case: Path):
    record(case, c.BeginCount(), "AB")
    hidden = orroom("fates", case)
    assert hidden.exit_code == 1
    assert "AB counts since" in hidden.stderr
    assert not hidden.stdout
