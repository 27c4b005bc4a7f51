"""A plan while it is filled in: fields in and out, problems by field, and the file that it becomes."""

from __future__ import annotations

import json
import tomllib
from copy import deepcopy
from pathlib import Path
from typing import Any

import pytest
from cases import PLANS, small_plan
from hypothesis import given
from hypothesis import strategies as st
from larger_cases import BROKEN, SAMPLES, SOUND, every_shape

from orroom.case.plan import Plan, Zone
from orroom.case.settings import Settings, plan_defaults
from orroom.demo.start import demo_plan
from orroom.errors import OrroomError
from orroom.files.checker import checked, problems
from orroom.files.plan_draft import (
    Draft,
    draft_from,
    draft_of,
    plan_of,
    spots,
    text_at,
    value_at,
    with_row,
    with_text,
    without,
    wrongs,
)
from orroom.files.plan_fields import MEASURES, PAGES, Field
from orroom.files.plan_file import load_plan, load_raw
from orroom.files.plan_rules import RULES
from orroom.files.plan_saving import PlanFile, free_names, plan_file_of
from orroom.files.plan_text import text_of

ALL_PLANS = [*map(load_plan, SOUND), demo_plan(), every_shape(), small_plan(donor=None, care=(), staff=())]
ALL_DRAFTS: list[Draft] = [*map(load_raw, SAMPLES), *map(draft_of, ALL_PLANS), {}, {"zones": 3, "sizes": [4]}]


def field_at(draft: Draft, *loc: str | int) -> Field:
    return next(spot.field for spot in spots(draft) if spot.field.loc == loc)


def typed(draft: Draft, text: str, *loc: str | int) -> Draft:
    return with_text(draft, field_at(draft, *loc), text)


# In and out.


@pytest.mark.parametrize("plan", ALL_PLANS, ids=lambda plan: str(plan.case))
def test_a_plan_is_its_draft(plan: Plan):
    assert plan_of(draft_of(plan)) == plan
    assert checked(draft_of(plan), Plan, RULES) == (plan, [])


@given(PLANS)
def test_every_plan_becomes_a_file_that_is_the_same_plan(plan: Plan):
    draft = draft_of(plan)
    assert plan_of(tomllib.loads(text_of(draft).text)) == plan_of(draft) == (plan_of(draft) and plan)


@pytest.mark.parametrize("draft", ALL_DRAFTS, ids=lambda draft: str(draft.get("case")))
def test_every_draft_becomes_a_file_that_holds_the_same(draft: Draft):
    assert same(tomllib.loads(text_of(draft).text), draft)


def same(one: Any, other: Any) -> bool:
    """Equal, types of numbers and ``nan`` included."""
    return json.dumps(one, sort_keys=True, default=repr) == json.dumps(other, sort_keys=True, default=repr)


@pytest.mark.parametrize("path", SOUND, ids=lambda path: path.parent.name)
def test_every_field_typed_again_leaves_the_draft_as_it_was(path: Path):
    draft = load_raw(path)
    for spot in spots(draft):
        assert same(with_text(draft, spot.field, text_at(draft, spot.field)), draft), spot
        if spot.field.loc[-2:] != ("shape", "kind"):  # another shape has other measures
            emptied = with_text(draft, spot.field, "")
            assert same(with_text(emptied, spot.field, text_at(draft, spot.field)), draft), spot


@pytest.mark.parametrize("plan", ALL_PLANS, ids=lambda plan: str(plan.case))
def test_the_form_has_a_field_for_everything_in_a_plan(plan: Plan):
    """Every value of a plan is gone once all fields are emptied and all rows removed."""
    draft = draft_of(plan)
    for page in PAGES:
        for row in reversed(page.rows(draft)):
            if page.rows_of is not None and row.entry is not None and page.name not in ("areas", "targets"):
                draft = without(draft, (page.rows_of, row.entry))
            for field in row.cells:
                if page.rows_of is None and field is not None:
                    draft = with_text(draft, field, "")
    # a donor's mix by size goes with the sizes: its fields are those of the sizes named anywhere
    assert draft.pop("format") == 1
    assert {name: value for name, value in draft.items() if value} == {}


def test_every_field_of_a_zone_can_be_filled_in():
    draft = with_row({"sizes": [{"key": "1"}]}, "zones")
    names = {spot.field.loc[2] for spot in spots(draft) if spot.field.loc[0] == "zones"}
    assert names == set(Zone.__struct_fields__)


# What is typed.


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("4", 4),
        ("4.50", 4.5),
        (" 30 ", 30),
        (".5", 0.5),
        ("-2", -2),
        ("abc", "abc"),
        ("1_000", "1_000"),
        ("nan", "nan"),
        ("٣", "٣"),
    ],
)
def test_a_number_is_a_number_and_anything_else_stays_as_typed(text: str, value: object):
    held = value_at(typed(draft_of(small_plan()), text, "zones", 0, "area_cm2"), ("zones", 0, "area_cm2"))
    assert held == value
    assert type(held) is type(value)


def test_lists_are_typed_with_spaces_or_commas_between():
    draft = draft_of(every_shape())
    draft = typed(draft, "Z1, Z2 D", "zones", 0, "neighbours")
    draft = typed(draft, "86, 84.5 82", "donor", "grafts_per_cm2")
    draft = typed(draft, "0,0 2,0.5 2.5,3", "zones", 3, "shape", "points_cm")
    assert value_at(draft, ("zones", 0, "neighbours")) == ["Z1", "Z2", "D"]
    assert value_at(draft, ("donor", "grafts_per_cm2")) == [86, 84.5, 82]
    assert value_at(draft, ("zones", 3, "shape", "points_cm")) == [[0, 0], [2, 0.5], [2.5, 3]]
    assert wrongs(draft) == []


def test_a_comma_inside_a_reading_is_told_and_not_guessed():
    draft = typed(draft_of(small_plan()), "86,84", "donor", "grafts_per_cm2")
    assert [wrong.field and wrong.field.loc for wrong in wrongs(draft)] == [("donor", "grafts_per_cm2")]


def test_another_shape_keeps_only_the_measures_it_has():
    draft = draft_of(every_shape())
    draft = typed(draft, "triangle", "zones", 0, "shape", "kind")
    assert value_at(draft, ("zones", 0, "shape")) == {"kind": "triangle"}
    assert [spot.field.loc[-1] for spot in spots(draft) if spot.field.loc[:3] == ("zones", 0, "shape")] == [
        "kind",
        *MEASURES["triangle"],
    ]
    assert "shape" not in value_at(typed(draft, "", "zones", 0, "shape", "kind"), ("zones", 0))


def test_tables_go_with_their_last_field():
    draft = draft_of(every_shape())
    for size in ("1", "2"):
        draft = typed(draft, "", "zones", 4, "density", "mix", size)
    assert value_at(draft, ("zones", 4, "density")) == {"grafts_per_cm2": 20}
    draft = typed(draft, "", "zones", 4, "density", "grafts_per_cm2")
    assert "density" not in value_at(draft, ("zones", 4))
    draft = typed(typed(draft, "", "limits", "slow_tail", "share"), "", "limits", "slow_tail", "pace")
    assert "slow_tail" not in draft["limits"]


def test_a_zone_that_gets_another_key_keeps_its_neighbours():
    draft = draft_of(small_plan())
    draft = typed(draft, "NEW", "zones", 1, "key")
    assert [zone["neighbours"] for zone in draft["zones"]] == [["NEW"], ["LINE", "MID"], ["NEW"]]
    assert wrongs(draft) == []
    twice = typed(draft, "NEW", "zones", 0, "key")
    again = typed(twice, "LINE", "zones", 0, "key")
    assert value_at(again, ("zones", 2, "neighbours")) == ["NEW"]


def test_a_change_leaves_the_draft_before_it_alone():
    draft = draft_of(small_plan())
    before = deepcopy(draft)
    typed(draft, "9", "zones", 0, "targets", "1")
    without(draft, ("zones", 0))
    with_row(draft, "harvests")
    assert draft == before


# Rows.


def test_a_new_row_begins_with_what_is_plain():
    draft = draft_of(small_plan())
    assert with_row(draft, "sizes")["sizes"][-1] == {"key": "4", "label": "4 hairs", "hairs": 4}
    assert with_row(draft, "harvests")["harvests"][-1] == {"key": "C", "label": "harvest C"}
    assert with_row(draft, "zones")["zones"][-1] == {}
    assert with_row(load_raw(SOUND[0]), "zones")["zones"][-1] == {"order": 11}
    assert with_row({"zones": [{"order": 5}, {"order": 1}]}, "zones")["zones"][-1] == {"order": 6}
    assert with_row({}, "cautions") == {"cautions": [""]}


def test_the_last_row_of_a_list_that_may_be_missing_takes_it_along():
    assert "staff" not in without({"staff": [{"initials": "AB"}]}, ("staff", 0))
    assert without({"zones": [{}]}, ("zones", 0)) == {"zones": []}


def test_a_new_plan_begins_with_the_clinics_parts_and_lacks_only_its_own():
    draft = draft_from(plan_defaults(Settings()))
    assert [care["kind"] for care in draft["care"]] == ["wet", "renew", "temperature"]
    assert {wrong.loc for wrong in wrongs(draft)} == {
        ("case",), ("zones", 0, "key"), ("zones", 0, "label"), ("zones", 0),
    }  # fmt: skip
    draft = typed(draft, "NEW-1", "case")
    for text, name in (("HL", "key"), ("hairline", "label"), ("4", "area_cm2")):
        draft = typed(draft, text, "zones", 0, name)
    plan = plan_of(typed(draft, "120", "zones", 0, "targets", "1"))
    assert plan is not None
    assert plan.planned("1") == 120


# What is wrong.


@pytest.mark.parametrize("draft", ALL_DRAFTS, ids=lambda draft: str(draft.get("case")))
def test_the_form_finds_what_a_file_is_refused_for(draft: Draft):
    found = [str(wrong.problem) for wrong in wrongs(draft)]
    unquoted = [
        str(each).replace(", without quotation marks", "").replace(" in quotation marks", "")
        for each in problems(draft, checked(draft, Plan, RULES)[1])
    ]
    assert found == unquoted


def test_every_problem_of_the_broken_sample_has_a_field_but_those_no_field_can_have():
    homeless = {wrong.loc for wrong in wrongs(load_raw(BROKEN)) if wrong.field is None}
    assert homeless == {("zones", 0, "lable"), ("zones", 0, "targets", "5"), ("surgeon",)}


def test_a_problem_of_a_whole_zone_leads_to_the_field_it_names():
    draft = draft_of(small_plan())
    draft = typed(draft, "", "zones", 1, "area_cm2")
    [wrong] = wrongs(draft)
    assert (PAGES[wrong.page or 0].name, wrong.row) == ("areas", 1)
    assert wrong.field is not None
    assert wrong.field.loc == ("zones", 1, "area_cm2")
    draft = draft_of(small_plan())
    draft = typed(draft, "20", "zones", 2, "density", "grafts_per_cm2")
    assert {PAGES[wrong.page or 0].name for wrong in wrongs(draft)} == {"targets"}


def test_a_slow_tail_that_is_all_of_the_case_is_told_its_range():
    draft = typed(draft_of(every_shape()), "1", "limits", "slow_tail", "share")
    [wrong] = wrongs(draft)
    assert str(wrong.problem) == "limits.slow_tail.share: 1 is not valid; use a number above 0 and below 1"


def test_a_list_that_is_missing_leads_to_its_page():
    [wrong] = [wrong for wrong in wrongs({**draft_of(small_plan()), "zones": []}) if wrong.loc == ("zones",)]
    assert wrong.page is not None
    assert PAGES[wrong.page].name == "zones"


# The file.


@pytest.mark.parametrize("path", SAMPLES, ids=lambda path: path.parent.name)
def test_a_file_nothing_was_changed_in_stays_as_it_is(path: Path):
    before = path.read_text("utf-8")
    assert text_of(load_raw(path), before) == (before, True)


def test_an_edited_file_keeps_its_kind_of_line_ends(tmp_path: Path):
    path = tmp_path / "plan.toml"
    path.write_bytes(SOUND[0].read_bytes().replace(b"\n", b"\r\n"))
    draft, plan_file = plan_file_of(path)
    assert text_of(draft, plan_file.before).text == plan_file.before
    plan_file.save(with_row(draft, "harvests"), path, replace=True)
    assert path.read_bytes().count(b"\n") == path.read_bytes().count(b"\r\n")
    assert load_raw(path) == with_row(draft, "harvests")


def comments(text: str) -> list[str]:
    return [line[line.index("#") :] for line in text.split("\n") if "#" in line]


def test_an_edited_file_keeps_every_comment_and_all_else_that_did_not_change():
    path = SOUND[0]
    before = path.read_text("utf-8")
    draft = typed(load_raw(path), "121", "zones", 0, "targets", "1")
    draft = typed(draft, "0.06", "donor", "loss")
    draft = with_row(with_row(typed(draft, "other", "title"), "harvests"), "zones")
    draft["zones"][-1] |= {"key": "NEW", "label": "new"}
    written = text_of(draft, before)
    assert written.comments_kept
    assert same(tomllib.loads(written.text), draft)
    assert comments(written.text) == comments(before)
    lines = set(before.split("\n")) - set(written.text.split("\n"))
    assert len(lines) == 3  # a title, a target, a loss


def test_a_row_that_goes_takes_its_own_comments_only():
    path = next(path for path in SOUND if path.parent.name == "hairline")
    before = path.read_text("utf-8")
    for place, gone in ((0, ["# 37.5 grafts/cm²"]), (1, []), (3, [])):
        written = text_of(without(load_raw(path), ("zones", place)), before)
        assert written.comments_kept
        left = list(comments(before))
        for each in gone:
            left.remove(each)
        assert comments(written.text) == left
    without_harvest = text_of(without(with_row(load_raw(path), "harvests"), ("harvests", 0)), before)
    assert "# 8.0 × 1.0 cm × mean(86, 84, 82) = 672 grafts, less 5 % = 638." in without_harvest.text


def test_a_comment_at_the_end_of_a_part_that_goes_stays_for_the_next_part():
    path = next(path for path in SOUND if path.parent.name == "hairline")
    draft = load_raw(path)
    del draft["donor"]
    written = text_of(draft, path.read_text("utf-8"))
    assert "# Care rounds begin with the harvest" in written.text
    assert "# 8.0 × 1.0 cm" not in written.text
    assert same(tomllib.loads(written.text), draft)


@pytest.mark.parametrize("gone", ["A", "B", "C"])
def test_each_row_has_the_comments_before_it(gone: str):
    rows = {key: f'# about {key}\n[[harvests]]\nkey = "{key}"\nlabel = "harvest {key}"\n' for key in "ABC"}
    before = '# mine\ncase = "X"\n\n' + "\n".join(rows.values()) + "\n# about the limits\n[limits]\n"
    draft = without(tomllib.loads(before), ("harvests", "ABC".index(gone)))
    written = text_of(draft, before)
    assert same(tomllib.loads(written.text), draft)
    left = [f"# about {key}" for key in "ABC" if key != gone]
    own = ["# about A"] if gone == "A" else []  # before the first it may be about them all
    assert comments(written.text) == ["# mine", *own, *left, "# about the limits"]
    for comment in left:
        assert f'{comment}\n[[harvests]]\nkey = "{comment[-1]}"' in written.text
    more = with_row(draft, "harvests")
    assert "[[harvests]]" not in text_of(more, before).text.partition("# about the limits")[2]


def test_a_file_that_cannot_be_changed_piece_by_piece_is_written_anew_and_says_so():
    before = '# mine\ncase = "A"\nsizes = [{ key = "1", label = "one", hairs = 1 }]\n'
    draft = tomllib.loads(before)
    draft["zones"] = []
    del draft["sizes"]
    draft["harvests"] = [{"key": "A"}]
    kept = text_of(draft, before)
    assert same(tomllib.loads(kept.text), draft)
    anew = text_of(draft, 'case = "A"\ncase = "B"\n')
    assert anew.comments_kept is False
    assert same(tomllib.loads(anew.text), draft)


TEXTS = st.text(st.characters(exclude_categories=("Cs",)), max_size=12) | st.sampled_from(
    (
        "1",
        "0.5",
        "12",
        "HL",
        "HL FC",
        "ellipse",
        "outline",
        "0,0 1,0 0,1",
        "M",
        "left",
        "nan",
        "1e400",
        "'",
        '"',
    )
)
EDITS = st.lists(
    st.tuples(st.sampled_from(("type", "row", "remove")), st.integers(0, 999), TEXTS), max_size=12
)


@given(st.integers(0, len(SAMPLES) - 1), EDITS)
def test_any_edits_make_a_draft_that_is_kept_whole(sample: int, edits: list[tuple[str, int, str]]):
    """Nothing raises, everything wrong is told as for a file, and both ways of writing hold exactly it."""
    before = SAMPLES[sample].read_text("utf-8")
    draft = load_raw(SAMPLES[sample])
    lists = [page.rows_of for page in PAGES if page.rows_of is not None]
    for what, number, text in edits:
        everywhere = spots(draft)
        if what == "type" and everywhere:
            draft = with_text(draft, everywhere[number % len(everywhere)].field, text)
        elif what == "row":
            draft = with_row(draft, lists[number % len(lists)])
        elif what == "remove":
            draft = without(draft, (lists[number % len(lists)], number % 7))
    assert (plan_of(draft) is None) == bool(wrongs(draft)) == bool(checked(draft, Plan, RULES)[1])
    for written in (text_of(draft), text_of(draft, before)):
        assert same(tomllib.loads(written.text), draft)


# Where it is written.


def test_a_new_plan_goes_to_a_file_by_its_code_and_nothing_is_overwritten(tmp_path: Path):
    draft = draft_of(small_plan())
    plan_file = PlanFile(tmp_path)
    target = plan_file.target(draft)
    assert target == tmp_path / "SMALL-1.toml"
    plan_file.save(draft, target, replace=False)
    assert load_plan(target) == small_plan()
    assert target.stat().st_mode & 0o777 == 0o600
    with pytest.raises(OrroomError, match="already exists"):
        plan_file.save(draft, target, replace=False)
    assert [path.name for path in tmp_path.iterdir()] == ["SMALL-1.toml"]


@pytest.mark.parametrize("code", ["", "../A", "a b", "A/B", "A" * 33])
def test_what_is_no_case_code_names_no_file(code: str, tmp_path: Path):
    assert PlanFile(tmp_path).target({"case": code}) == tmp_path / "plan.toml"


def test_an_edited_plan_goes_back_to_its_file_and_another_case_to_its_own(tmp_path: Path):
    path = tmp_path / "mine.toml"
    path.write_text("# my own\n" + text_of(draft_of(small_plan())).text, "utf-8")
    path.chmod(0o640)
    draft, plan_file = plan_file_of(path, tmp_path / "new")
    assert plan_file.target(draft) == path
    assert plan_file.target({**draft, "case": "OTHER"}) == tmp_path / "new" / "OTHER.toml"
    plan_file.save({**draft, "title": "other"}, path, replace=True)
    assert path.read_text("utf-8").startswith("# my own\n")
    assert load_plan(path).title == "other"
    assert path.stat().st_mode & 0o777 == 0o640
    assert plan_file.changed_meanwhile()


def test_a_draft_is_kept_beside_the_plan_each_time_under_a_name_of_its_own(tmp_path: Path):
    plan_file = PlanFile(tmp_path)
    drafts = [{"case": "X", "zones": "not yet"}, {"case": "X", "harvests": [{}]}]
    paths = [plan_file.keep_draft(draft) for draft in drafts]
    assert [path.name for path in paths] == ["X.draft.toml", "X.2.draft.toml"]
    assert [load_raw(path) for path in paths] == drafts
    draft, again = plan_file_of(paths[0])
    assert again.target(draft) == tmp_path / "X.toml"


def test_a_draft_is_kept_elsewhere_where_its_folder_takes_none(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    monkeypatch.setenv("HOME", str(tmp_path))
    assert PlanFile(tmp_path / "gone").keep_draft({"case": "X"}) == tmp_path / "X.draft.toml"


def test_free_names_are_numbered_from_the_second_on():
    names = free_names(Path("a.toml"))
    assert [next(names).name for _ in range(3)] == ["a.toml", "a.2.toml", "a.3.toml"]
