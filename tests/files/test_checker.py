"""What is written in a file is held to what the parts of plans and settings may hold: no less, no more."""

from __future__ import annotations

import math
import re
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any, get_args, get_type_hints

import pytest
from cases import small_plan
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec import convert, to_builtins

from orroom.case.parts import Part, plain_table
from orroom.case.plan import CareRound, DensityTarget, Harvest, Limits, Plan, Size, Zone
from orroom.case.settings import Settings
from orroom.case.shapes import Outline
from orroom.case.terms import AS_RECORDED
from orroom.files.checker import checked, problems
from orroom.files.plan_file import load_plan, plan_schema
from orroom.files.right_words import fields_of, in_words, right_value
from orroom.record.encoding import compact, event_of

SAMPLES = Path(__file__).parents[2] / "sample_cases"


def parts(base: type[Part] = Part) -> Iterator[type[Part]]:
    for part in base.__subclasses__():
        yield part
        yield from parts(part)


def holds_a_measure(kind: object) -> bool:
    """Whether a field may hold a float of its own, not within another part."""
    return kind is float or any(map(holds_a_measure, get_args(kind)))


@pytest.mark.parametrize("part", list(parts()), ids=lambda part: part.__name__)
def test_every_measure_is_named_so_that_a_whole_number_is_kept_as_it_is_read_back(part: type[Part]):
    hints = get_type_hints(part)
    assert {each for each in part.__struct_fields__ if holds_a_measure(hints[each])} == set(part.measures)


@pytest.mark.parametrize("name", ["hairline", "frontal-midscalp"])
def test_a_plan_that_is_sound_is_the_same_plan_in_a_record(name: str):
    plan = load_plan(SAMPLES / name / "plan.toml")
    body = compact({"plan": to_builtins(plan), "utc_offset_minutes": 60})
    assert event_of("case_opened", body).plan == plan
    assert checked(plain_table(plan), Plan) == (plan, [])


def test_a_whole_number_given_in_code_is_recorded_as_it_is_read_back():
    plan = small_plan()
    again = event_of("case_opened", compact({"plan": to_builtins(plan), "utc_offset_minutes": 60})).plan
    assert compact(to_builtins(again)) == compact(to_builtins(plan))


#: What may be put anywhere: right there, or wrong.
PLAIN = (
    None,
    True,
    0,
    1,
    3,
    12.5,
    -4,
    10**400,
    math.nan,
    math.inf,
    "",
    "A",
    "A ",
    "1",
    "M",
    "wet",
    "ab\n",
    "x" * 41,
)
NESTED = ([], {}, [1, 2], ["1"], [[0, 0], [3, 0], [0, 3]], {"1": 0.5}, {"1": 5}, {"kind": "ellipse"})
VALUES = st.sampled_from((*PLAIN, *NESTED))

#: Values at and just beyond each limit, by part and field: what is right, and what is not.
EDGES = [
    (Size, {"key": "M", "label": "m", "hairs": 2.0}, "hairs", (0.001, 12), (0, 12.1, "2", None)),
    (Harvest, {"key": "A", "label": "a"}, "segments", (1, 200, None), (0, 201, 1.5, "3", True)),
    (Harvest, {"key": "A", "label": "a"}, "key", ("ABCD", "9"), ("", "ABCDE", "a", "Ä")),
    (Harvest, {"key": "A", "label": "a"}, "label", ("x" * 40,), ("", "x" * 41, 3)),
    (Limits, {}, "with_placers_seconds", (10, 3600), (9, 3601, 10.5, None)),
    (Limits, {}, "day_hours", (0.1, 24, 8), (0, 24.5, None)),
    (Limits, {}, "out_of_body_hours", (0.1, 24, 8, None), (0, 24.5, "4")),
    (Limits, {}, "care_until", ("last graft", "end of work", None), ("", "sign-off")),
    (
        CareRound,
        {"key": "x", "label": "x", "kind": "reminder"},
        "at",
        ("00:00", "09:30", "23:59", None),
        ("9:30", "24:00", "09:60", "", 9.5),
    ),
    (
        CareRound,
        {"key": "x", "label": "x", "kind": "reminder"},
        "once",
        (True, False, None),
        ("true", 1, "yes"),
    ),
    (
        CareRound,
        {"key": "x", "label": "x", "kind": "reminder"},
        "starts",
        ("opening", "first harvest", None),
        ("", "harvest"),
    ),
    (
        CareRound,
        {"key": "wet", "label": "w", "kind": "wet", "every_minutes": 5},
        "kind",
        ("renew",),
        ("dry", 1),
    ),
    (
        Zone,
        {"key": "A", "label": "a"},
        "targets",
        ({}, {"M": 10_000}, None),
        ({"5": 1}, {"1": -1}, {"1": 1.5}),
    ),
    (Zone, {"key": "A", "label": "a"}, "allowed", (("1", "M"), ()), (("5",), "1")),
    (DensityTarget, {"grafts_per_cm2": 30}, "mix", ({"1": 1}, {"2": 0}), ({}, {"1": 1.1}, None)),
    (Plan, plain_table(small_plan()), "format", (1,), (True, 2, "1", None)),
]


def as_recorded(value: Any) -> Any:
    """What a file says under the names that a record has."""
    if isinstance(value, dict):
        return {AS_RECORDED.get(name, name): as_recorded(each) for name, each in value.items()}
    return value


@pytest.mark.parametrize(("part", "rest", "field", "right", "wrong"), EDGES)
def test_a_file_is_held_to_the_limits_that_a_record_and_an_editor_hold_it_to(
    part: type[Part],
    rest: dict[str, object],
    field: str,
    right: tuple[object, ...],
    wrong: tuple[object, ...],
):
    """msgspec itself, and the jsonschema library by the schema that editors get, are asked the same."""
    from jsonschema import Draft202012Validator

    whole = plan_schema()
    of_the_part = {"$defs": whole["$defs"], "$ref": f"#/$defs/{part.__name__}"}
    editor = Draft202012Validator(whole if part is Plan else of_the_part)
    for value in right:
        raw = {**rest, field: value}
        assert checked(raw, part) == (convert(as_recorded(raw), part), [])
        assert editor.is_valid(listed(raw))
    for value in wrong:
        raw = {**rest, field: value}
        made, found = checked(raw, part)
        assert made is None
        assert {finding.loc[0] for finding in found} == {field}
        with pytest.raises(ValueError, match=re.escape(field)):
            convert(raw, part)
        assert not editor.is_valid(listed(raw))


def listed(value: Any) -> Any:
    """With lists for tuples, as JSON has them."""
    if isinstance(value, dict):
        return {name: listed(each) for name, each in value.items()}
    return [*map(listed, value)] if isinstance(value, tuple) else value


def test_a_field_that_no_part_has_is_refused_also_in_a_record():
    assert checked({"extra": 1}, Limits)[0] is None
    with pytest.raises(ValueError, match="extra"):
        convert({"extra": 1}, Limits)


def test_settings_with_nothing_in_them_are_the_defaults():
    assert checked({}, Settings) == (Settings(), [])


@pytest.mark.parametrize("part", [*parts()], ids=lambda part: part.__name__)
def test_every_field_of_every_part_is_said_in_words(part: type[Part]):
    for name, may in fields_of(part).items():
        assert in_words(may, (name,))


def test_a_list_too_long_tells_of_its_entries_too():
    raw = {"cautions": ["fine"] * 10 + [""]}
    wrong = {finding.loc: finding.wrong for finding in checked(raw, Plan)[1]}
    assert wrong["cautions",] == "has 11 entries"
    assert wrong["cautions", 10] == "is empty"


def test_a_corner_has_two_numbers():
    triangle = [[0, 0], [1, 0], [1]]
    _, found = checked({"kind": "outline", "points_cm": triangle}, Outline)
    assert [finding.loc for finding in found] == [("points_cm", 2)]
    assert "has 1 entry; use a list of 2 entries" in str(problems({}, found)[0])


@pytest.mark.parametrize("name", ["hairline", "frontal-midscalp", "vertex", "two-lots"])
@given(data=st.data())
@settings(max_examples=60)
def test_no_plan_passes_that_a_record_would_not_give_back(name: str, data: st.DataObject):
    """Any value put anywhere: what passes is what msgspec reads, and what msgspec refuses does not pass."""
    raw: Any = tomllib.loads((SAMPLES / name / "plan.toml").read_text("utf-8"))
    place = raw
    while True:
        key = data.draw(st.sampled_from([*place] if isinstance(place, dict) else range(len(place))))
        if not isinstance(place[key], dict | list) or not place[key] or data.draw(st.booleans()):
            break
        place = place[key]
    place[key] = data.draw(VALUES)
    made, found = checked(raw, Plan)
    try:
        read = convert(as_recorded(raw), Plan)
    except ValueError:
        assert found
    else:
        only_its_characters = {"contains", "begins"}  # which a record was asked about before it was written
        assert made == read or {finding.wrong.split()[0] for finding in found} <= only_its_characters


@pytest.mark.parametrize("kind", ["ellipse", "trapezoid", "triangle"])
def test_each_measure_of_a_shape_says_what_it_may_be(kind: str):
    shape = {"ellipse": "width_cm", "trapezoid": "depth_cm", "triangle": "base_cm"}
    assert right_value(("zones", 0, "shape", shape[kind]), Plan) == "a number above 0 and up to 60"
    kinds = right_value(("zones", 0, "shape", "kind"), Plan)
    assert f'"{kind}"' in kinds
