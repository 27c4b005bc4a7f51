"""Plans as files: sound ones load, and unsound ones say everything that is wrong with them, at once.

No published source says what a plan file must refuse; the checks follow the project's own format, and name an
outside source where one exists.
"""

from __future__ import annotations

import copy
import json
import re
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec import to_builtins
from stations import new_case

import orroom.demo
from orroom.case.plan import Plan
from orroom.case.terms import hidden_character
from orroom.errors import OrroomError, PlanInvalidError, Problem
from orroom.files.checker import checked, problems
from orroom.files.old_names import in_todays_names
from orroom.files.plan_file import load_plan, plan_from_raw, plan_schema
from orroom.files.plan_rules import RULES
from orroom.record import encoding

SAMPLES = Path(__file__).parents[2] / "sample_cases"
SOUND = ("hairline", "frontal-midscalp", "vertex", "two-lots")
#: Words of the validating library that no user should have to read.
JARGON = re.compile(
    r"pydantic|input should|valid string|tuple|dictionary|literal|union|instance of", re.IGNORECASE
)


def sample(name: str) -> dict[str, Any]:
    return tomllib.loads((SAMPLES / name / "plan.toml").read_text(encoding="utf-8"))


def small() -> dict[str, Any]:
    """The smallest plan: one size, one zone."""
    return {
        "case": "DEMO-1",
        "sizes": [{"key": "1", "label": "ones", "hairs": 1}],
        "zones": [{"key": "HL", "label": "hairline", "area_cm2": 4.0, "targets": {"1": 120}}],
    }


def put(raw: dict[str, Any], *path_and_value: Any) -> dict[str, Any]:
    """A copy of a plan with one value changed."""
    raw = copy.deepcopy(raw)
    *path, last, value = path_and_value
    target: Any = raw
    for part in path:
        target = target[part]
    target[last] = value
    return raw


def told(raw: dict[str, Any]) -> list[str]:
    return [str(problem) for problem in problems(raw, checked(raw, Plan, RULES)[1])]


def problems_of(file: Path, content: str | bytes) -> list[str]:
    file.write_bytes(content.encode() if isinstance(content, str) else content)
    with pytest.raises(PlanInvalidError) as caught:
        load_plan(file)
    assert caught.value.exit_code == 2
    assert str(file) in str(caught.value)
    return [str(problem) for problem in caught.value.problems]


# Sound plans.


@pytest.mark.parametrize("name", SOUND)
def test_sample_plans_load(name: str):
    plan = load_plan(SAMPLES / name / "plan.toml")
    assert plan.case.startswith("DEMO-")
    assert (
        plan.limits.with_placers_seconds < 180
    )  # Dermatol Surg 2000;26(1):25-31: 180 s of drying did damage


@pytest.mark.parametrize("name", SOUND)
def test_sample_plans_have_believable_densities(name: str):
    # Common practice, no source: 20 to 45 grafts/cm² in one session.
    for zone in load_plan(SAMPLES / name / "plan.toml").zones:
        assert 20 <= sum(zone.planned.values()) / zone.measured_cm2 <= 45, zone.key


@pytest.mark.parametrize("name", SOUND)
def test_sample_donors_give_what_the_plan_needs(name: str):
    # Arithmetic: strip area × mean reading × share of the size × what cutting leaves.
    plan = load_plan(SAMPLES / name / "plan.toml")
    assert plan.donor
    readings = plan.donor.grafts_per_cm2
    strip_cm2 = plan.donor.strip_length_cm * plan.donor.strip_width_cm
    expected = strip_cm2 * sum(readings) / len(readings) * (1 - plan.donor.loss)
    for size in plan.sizes:
        assert plan.planned(size.key) <= expected * plan.donor.mix[size.key]


def test_full_day_sample_adds_up_to_2400_grafts():
    # Arithmetic, zone by zone: 2·120 + 2·90 + 2·200 + 230 + 600 + 2·375 = 2,400;
    # hairs 480 + 2·1,110 + 3·620 + 4·90 + 4.4·100 = 5,360.
    plan = load_plan(SAMPLES / "frontal-midscalp" / "plan.toml")
    by_size = {size.key: plan.planned(size.key) for size in plan.sizes}
    assert by_size == {"1": 480, "2": 1110, "3": 620, "4": 90, "M": 100}
    assert plan.planned() == 2400
    assert sum(by_size[size.key] * size.hairs for size in plan.sizes) == pytest.approx(5360)


def test_full_day_sample_keeps_multi_unit_grafts_behind_and_ones_alone_in_front():
    # Common practice, no source.
    plan = load_plan(SAMPLES / "frontal-midscalp" / "plan.toml")
    assert {zone.key for zone in plan.zones if zone.planned.get("M")} == {"ML", "MR"}
    assert all(set(zone.planned) == {"1"} for zone in plan.zones if zone.label.startswith("hairline"))


@pytest.mark.parametrize(("name", "grafts"), [("hairline", 600), ("vertex", 1251), ("two-lots", 400)])
def test_other_samples_add_up(name: str, grafts: int):
    # Arithmetic. Vertex: 28·17.5 + 26·π·4·3/4 + 2·24·6.625 + 22·9 = 490 + 245 + 159 + 159 + 198.
    assert load_plan(SAMPLES / name / "plan.toml").planned() == grafts


def test_demo_runs_on_the_full_day_sample_and_its_threes_may_be_divided():
    demo = Path(orroom.demo.__file__).with_name("plan.toml").read_text(encoding="utf-8")
    line = next(each for each in demo.splitlines(keepends=True) if each.startswith('divided_into = ["1+2"]'))
    sample = (SAMPLES / "frontal-midscalp" / "plan.toml").read_text(encoding="utf-8")
    assert demo.replace(line, "") == sample


@pytest.mark.parametrize("name", [*SOUND, "broken"])
def test_samples_explain_themselves(name: str):
    lines = (SAMPLES / name / "plan.toml").read_text(encoding="utf-8").splitlines()
    comment = "\n".join(lines[: lines.index("")])
    assert all(
        re.search(rf"^# +{field}\b", comment, re.MULTILINE)
        for field in Plan.__struct_fields__
        if field not in ("format", "sessions")
    )
    assert (SAMPLES / name / "README.md").is_file()


@pytest.mark.parametrize("name", SOUND)
def test_plan_survives_the_way_through_json(name: str):
    plan = load_plan(SAMPLES / name / "plan.toml")
    assert plan_from_raw(in_todays_names(json.loads(encoding.compact(to_builtins(plan)))), "line 1") == plan


def test_windows_editors_may_save_a_plan(tmp_path: Path):
    text = (SAMPLES / "hairline" / "plan.toml").read_text(encoding="utf-8").replace("\n", "\r\n")
    file = tmp_path / "plan.toml"
    file.write_bytes(b"\xef\xbb\xbf" + text.encode())
    assert load_plan(file) == load_plan(SAMPLES / "hairline" / "plan.toml")


# The schema.


@pytest.mark.parametrize("name", SOUND)
def test_schema_accepts_the_samples(name: str):
    import jsonschema

    jsonschema.Draft202012Validator.check_schema(plan_schema())
    jsonschema.validate(sample(name), plan_schema(), cls=jsonschema.Draft202012Validator)


def test_schema_refuses_the_broken_sample():
    import jsonschema

    errors = list(jsonschema.Draft202012Validator(plan_schema()).iter_errors(sample("broken")))
    assert len(errors) > 10


def test_schema_says_what_it_is():
    assert plan_schema()["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    assert plan_schema()["title"] == "orroom plan"
    assert plan_schema()["description"]


# Everything wrong, at once.


def test_broken_sample_lists_every_problem():
    expected = (SAMPLES / "broken" / "expected_errors.txt").read_text(encoding="utf-8").splitlines()
    with pytest.raises(PlanInvalidError) as caught:
        load_plan(SAMPLES / "broken" / "plan.toml")
    assert [str(problem) for problem in caught.value.problems] == expected
    assert len(expected) > 40
    assert not [line for line in expected if JARGON.search(line) or hidden_character(line)]


def test_every_problem_says_what_would_be_right():
    assert all(finding.wrong and finding.right for finding in checked(sample("broken"), Plan, RULES)[1])


def test_an_empty_plan_lacks_what_every_plan_needs():
    assert [line.split(";")[0] for line in told({})] == [
        "case: is missing",
        "sizes: is missing",
        "zones: is missing",
    ]


def test_smallest_plan_is_sound():
    assert told(small()) == []
    assert plan_from_raw(small(), "plan.toml").planned() == 120


@pytest.mark.parametrize("raw", [[], "plan", None, 3])
def test_a_recorded_plan_that_is_no_table(raw: Any):
    with pytest.raises(PlanInvalidError, match="use a table with case, sizes, zones"):
        plan_from_raw(raw, "events.jsonl, line 1")


@pytest.mark.parametrize(
    ("change", "expected"),
    [
        (("case", "Jane"), 'case: "Jane" is not valid; use 1 to 32 capitals, digits, "-" or "_"'),
        (("case", "DEMO-1\n"), 'case: "DEMO-1<U+000A>" is not valid; use 1 to 32 capitals'),
        (("title", "x" * 41), "title: has 41 characters; use text of 1 to 40 characters in quotation marks"),
        (("title", "[bold]"), "title: contains a square bracket; write it without [ and ]"),
        (
            ("title", "a\u202eb"),
            "title: contains the invisible character U+202E; type it again without it",
        ),
        (
            ("title", "a\x07b"),
            "title: contains the invisible character U+0007; type it again without it",
        ),
        (
            ("title", "a\ud800b"),
            "title: contains the invisible character U+D800; type it again without it",
        ),
        (("combing_side", "centre"), 'combing_side: "centre" is not valid; use "left" or "right"'),
        (("zones", 0, "upper_arc", "yes"), 'upper_arc: "yes" is not valid; use true or false'),
        (("zones", 0, "not_treated", 1), "not_treated: 1 is not valid; use true or false"),
        (("title", " a"), "title: begins or ends with a space; remove it"),
        (("format", 2), "format: 2 is not valid; use 1"),
        (("zone", []), "zone: is not a known field; did you mean zones?"),
        (("x\u202ey", 1), "x<U+202E>y: is not a known field; remove it; known here: format, case, title"),
        (
            ("zones", {}),
            "zones: a table is not valid; use 1 to 40 entries, each under its own [[zones]] heading",
        ),
        (("zones", []), "zones: has 0 entries; use 1 to 40 entries, each under its own [[zones]] heading"),
        (("zones", 0, "HL"), 'zone 1: "HL" is not valid; use a table with key, label'),
        (
            ("zones", 0, "aera_cm2", 4),
            'zone 1 "HL": aera_cm2: is not a known field; did you mean area_cm2?',
        ),
        (
            ("zones", 0, "area_cm2", "four"),
            'zone 1 "HL": area_cm2: "four" is not valid; use a number above 0 and up to 400',
        ),
        (("zones", 0, "area_cm2", "4.0"), ", without quotation marks"),
        (
            ("zones", 0, "area_cm2", float("nan")),
            'zone 1 "HL": area_cm2: nan is not valid; use a number above 0',
        ),
        (
            ("zones", 0, "area_cm2", float("inf")),
            'zone 1 "HL": area_cm2: inf is not valid; use a number above 0',
        ),
        (
            ("zones", 0, "area_cm2", True),
            'zone 1 "HL": area_cm2: true is not valid; use a number above 0 and up to 400',
        ),
        (
            ("zones", 0, "area_cm2", 10**400),
            'zone 1 "HL": area_cm2: such a large number is not valid; use a number',
        ),
        (
            ("zones", 0, "area_cm2", 0),
            'zone 1 "HL": area_cm2: 0 is not valid; use a number above 0 and up to 400',
        ),
        (
            ("zones", 0, "side", "top"),
            'zone 1 "HL": side: "top" is not valid; use "left", "centre" or "right"',
        ),
        (
            ("zones", 0, "targets", "1", -1),
            'zone 1 "HL": targets.1: -1 is not valid; use a whole number from 0 to 10000',
        ),
        (
            ("zones", 0, "targets", "1", 10_001),
            'zone 1 "HL": targets.1: 10001 is not valid; use a whole number from 0',
        ),
        (
            ("zones", 0, "targets", "1", 1.5),
            'zone 1 "HL": targets.1: 1.5 is not valid; use a whole number from 0 to 10000',
        ),
        (
            ("zones", 0, "targets", "5", 1),
            'zone 1 "HL": targets.5: is not a size; use "1", "2", "3", "4" or "M"',
        ),
        (
            ("zones", 0, "targets", 7),
            'zone 1 "HL": targets: 7 is not valid; use a table by "1", "2", "3", "4" or "M"',
        ),
        (("zones", 0, "key", 7), 'zone 1: key: 7 is not valid; use 1 to 12 capitals, digits or "-"'),
        (
            ("zones", 0, "shape", 3),
            'zone 1 "HL": shape: 3 is not valid; use a table whose kind is "ellipse", "outline"',
        ),
        (
            ("zones", 0, "shape", {}),
            'zone 1 "HL": shape: has no kind; use a table whose kind is "ellipse"',
        ),
        (
            ("zones", 0, "shape", {"kind": "ellipse"}),
            'zone 1 "HL": shape.width_cm: is missing; add a number',
        ),
        (
            ("zones", 0, "shape", {"kind": "triangle", "base_cm": 3, "height": 3}),
            'zone 1 "HL": shape.height: is not a known field; did you mean height_cm?',
        ),
        (
            ("zones", 0, "shape", {"kind": "outline", "points_cm": [[0, 0], [1], [1, 2, 3], [90, 0]]}),
            'zone 1 "HL": shape.points_cm, entry 4, entry 1: 90 is not valid; use a number from -60 to 60',
        ),
        (
            ("staff", [{"initials": "Ann", "role": "cutting"}]),
            'person 1 "Ann": initials: "Ann" is not valid; use a capital',
        ),
        (
            ("cautions", ["", "two"]),
            "caution 1: is empty; use text of 1 to 200 characters in quotation marks",
        ),
        (
            ("limits", {"with_placers_seconds": 5}),
            "limits.with_placers_seconds: 5 is not valid; use a whole number from 10 to 3600",
        ),
    ],
)
def test_a_field_that_is_wrong_is_named_with_what_would_be_right(change: tuple[Any, ...], expected: str):
    lines = told(put(small(), *change))
    assert [line for line in lines if expected in line], lines
    assert not [line for line in lines if JARGON.search(line)]


# What contradicts something else.


def zones(*changes: dict[str, Any]) -> dict[str, Any]:
    """The smallest plan with these zones, each like its own but for the changes."""
    base = small()["zones"][0]
    rows = [{**base, "key": f"Z{place}", **change} for place, change in enumerate(changes)]
    return {**small(), "zones": [{key: row[key] for key in row if row[key] is not None} for row in rows]}


def outline(*points: tuple[int, int]) -> dict[str, Any]:
    """A shape with these corners."""
    return {"kind": "outline", "points_cm": [list(point) for point in points]}


def care(**fields: Any) -> dict[str, Any]:
    return {**small(), "care": [{"key": "wet", "label": "wet", "kind": "wet", "every_minutes": 15, **fields}]}


def size(key: str, hairs: float, **fields: Any) -> dict[str, Any]:
    more = {"key": key, "label": "more", "hairs": hairs, **fields}
    return {**small(), "sizes": [*small()["sizes"], more]}


def donor(mix: dict[str, float]) -> dict[str, Any]:
    strip = {"strip_length_cm": 8, "strip_width_cm": 1, "grafts_per_cm2": [80], "mix": mix}
    return {**small(), "donor": strip}


def density(mix: dict[str, float]) -> dict[str, Any]:
    return {**zones({"targets": None, "density": {"grafts_per_cm2": 30, "mix": mix}})}


PERSON = {"initials": "AB", "role": "cutting"}
HARVEST = {"key": "A", "label": "strip"}
CARE = care()["care"][0]
ELLIPSE = {"kind": "ellipse", "length_cm": 8, "width_cm": 6}
MILLIMETRES = {"kind": "ellipse", "length_cm": 40, "width_cm": 30}
CONTRADICTIONS: dict[str, list[tuple[dict[str, Any], str]]] = {
    "refuse_same_key_twice": [
        (zones({"key": "A"}, {"key": "A"}), 'zone 2 "A": key: "A" is already used by zone 1'),
        (size("1", 1), 'size 2 "1": key: "1" is already used by size 1'),
        ({**small(), "harvests": [HARVEST, HARVEST]}, 'harvest 2 "A": key: "A" is already used by harvest 1'),
        ({**small(), "care": [CARE, CARE]}, 'care round 2 "wet": key: "wet" is already used by care round 1'),
        ({**small(), "staff": [PERSON, PERSON]}, 'person 2 "AB": initials: "AB" is already used by person 1'),
    ],
    "refuse_reserved_care_key": [
        (care(key="bench"), 'care round 1 "bench": key: "bench" is reserved for grafts with')
    ],
    "refuse_hairs_unlike_size": [
        (size("3", 2), 'size 2 "3": hairs: 2 does not match size "3"; use 3'),
        (size("M", 0.5), 'size 2 "M": hairs: 0.5 is not valid for size "M"; use a mean from 1 to 12 hairs'),
    ],
    "refuse_division_that_makes_hairs": [
        (
            size("3", 3, divided_into=["1+1", "1+3"]),
            'size 2 "3": divided_into, entry 2: "1+3": is more than the 3 hairs of a graft of size 3; use',
        ),
        (size("3", 3, divided_into=["3"]), 'size 2 "3": divided_into, entry 1: "3": makes no smaller grafts'),
        (size("M", 4.4, divided_into=["4"]), '"4": size 4 is not one of the plan\'s sizes; use sizes of the'),
        (size("M", 1.4, divided_into=["1+1"]), '"1+1": is more than the 1.4 hairs of a graft of size M; use'),
    ],
    "refuse_area_given_not_once": [
        (zones({"shape": ELLIPSE}), 'zone 1 "Z0": has both area_cm2 and shape; keep one of them'),
        (zones({"area_cm2": None}), 'zone 1 "Z0": has neither area_cm2 nor shape; add one of them'),
    ],
    "refuse_targets_given_not_once": [
        (zones({"density": {"grafts_per_cm2": 30, "mix": {"1": 1}}}), 'zone 1 "Z0": has both targets and'),
        (zones({"targets": None}), 'zone 1 "Z0": has neither targets nor density'),
        (zones({"not_treated": True}), 'zone 1 "Z0": targets: is set, but the zone is not treated; remove'),
        (zones({"not_treated": False, "targets": None}), 'zone 1 "Z0": has neither targets nor density'),
    ],
    "refuse_length_without_segments": [
        (
            {**small(), "harvests": [{**HARVEST, "strip_length_mm": 260}]},
            'harvest 1 "A": strip_length_mm: is set, but segments is not; set segments too, or remove it',
        ),
    ],
    "refuse_enormous_shape": [
        # Geometry: π · 40 · 30 / 4 = 942.
        (zones({"area_cm2": None, "shape": MILLIMETRES}), 'zone 1 "Z0": shape: has an area of 942 cm²'),
    ],
    "refuse_sessions_by_hand": [
        (
            {"sessions": []},
            "sessions: is taken from the record of an earlier case, not from a file; remove it",
        ),
    ],
    "refuse_outline_that_meets_itself": [
        (
            zones({"area_cm2": None, "shape": outline(*[(0, 0), (4, 0), (4, 4), (0, 4)] * 2)}),
            'zone 1 "Z0": shape: the outline returns to corner 1 at corner 5; list each corner once',
        ),
        (
            zones({"area_cm2": None, "shape": outline((0, 0), (4, 3), (4, 0), (0, 1))}),
            'zone 1 "Z0": shape: the outline crosses itself: the line from corner 1 to corner 2',
        ),
    ],
    "refuse_size_not_in_plan": [
        (
            zones({"targets": {"2": 1}}),
            'targets.2: size "2" is not one of the plan\'s sizes; use "1", or add',
        ),
        (zones({"allowed": ["1", "M"]}), 'zone 1 "Z0": allowed, entry 2: size "M" is not one of the plan\'s'),
        (density({"1": 0.5, "3": 0.5}), 'zone 1 "Z0": density.mix.3: size "3" is not one of the plan\'s'),
        (donor({"1": 0.5, "4": 0.5}), 'donor.mix.4: size "4" is not one of the plan\'s sizes'),
    ],
    "refuse_target_not_allowed": [
        (
            {**size("2", 2), "zones": zones({"allowed": ["2"]})["zones"]},
            'zone 1 "Z0": targets.1: size "1" is planned but not allowed in this zone',
        ),
        (
            {**size("2", 2), "zones": [{**density({"1": 0.5, "2": 0.5})["zones"][0], "allowed": ["2"]}]},
            'zone 1 "Z0": density.mix.1: size "1" is planned but not allowed in this zone',
        ),
    ],
    "refuse_unknown_neighbour": [
        (
            zones({}, {"neighbours": ["Z2"]}),
            'zone 2 "Z1": neighbours, entry 1: no zone has the key "Z2"; use "Z0"',
        ),
        (zones({"neighbours": ["Z0"]}), 'zone 1 "Z0": neighbours, entry 1: names the zone itself; remove it'),
    ],
    "refuse_unclear_placing_order": [
        (zones({"order": 1}, {}), 'zone 2 "Z1": order: is missing, but other zones have it'),
        (zones({"order": 2}, {"order": 2}), 'zone 2 "Z1": order: 2 is already the order of zone 1'),
    ],
    "refuse_mix_that_does_not_add_up": [
        (
            donor({"1": 1.0, "2": 0.001}),
            "donor.mix: adds up to 1.001; make the shares add up to 1 at most",
        ),
        (density({"1": 0.98}), 'zone 1 "Z0": density.mix: adds up to 0.98; make the shares add up to 1'),
    ],
    "refuse_temperature_without_band": [
        (
            care(kind="temperature", low_c=2),
            'care round 1 "wet": high_c: is missing; a temperature round needs low_c and high_c',
        ),
        (
            care(kind="temperature", low_c=8, high_c=2),
            'care round 1 "wet": low_c: 8 °C is not below high_c, 2 °C',
        ),
        (
            care(kind="temperature", low_c=4, high_c=4),
            'care round 1 "wet": low_c: 4 °C is not below high_c, 4 °C',
        ),
        (care(outside_minutes=9), 'care round 1 "wet": outside_minutes: is only for temperature rounds'),
        (care(low_c=2), 'care round 1 "wet": low_c: is only for temperature rounds; remove it'),
        (care(kind="reminder", low_c=2), 'care round 1 "wet": low_c: is only for temperature rounds'),
    ],
    "refuse_round_without_interval": [
        (
            care(every_minutes=None),
            'care round 1 "wet": every_minutes: is missing; add a number from 1 to 480',
        ),
        (care(kind="reminder", at="09:30", every_minutes=None), "every_minutes: is missing"),
        (care(kind="reminder", once=True, every_minutes=None), "every_minutes: is missing"),
        (care(at="09:30", once=True, every_minutes=None), "every_minutes: is missing"),
    ],
    "refuse_start_of_other_care": [
        (care(starts="opening"), 'care round 1 "wet": starts: is only for reminders; remove it'),
        (care(kind="renew", at="09:30"), 'care round 1 "wet": at: is only for reminders; remove it'),
        (care(once=True), 'care round 1 "wet": once: is only for reminders; remove it'),
    ],
    "refuse_two_starts": [
        (
            care(kind="reminder", starts="opening", at="09:30"),
            'care round 1 "wet": at: is set, and starts is too; keep one of them',
        )
    ],
}


def test_every_contradiction_has_its_rule():
    assert {rule.__name__ for rule in RULES} == set(CONTRADICTIONS)


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.__name__)
def test_each_contradiction_is_refused(rule: Callable[..., Any]):
    for raw, expected in CONTRADICTIONS[rule.__name__]:
        lines = told(raw)
        assert [line for line in lines if expected in line], lines


@pytest.mark.parametrize(
    "raw",
    [
        size("M", 4.4),
        zones({"targets": {"1": 0}}),
        zones({"neighbours": ["Z1"]}, {}),
        zones({"targets": None, "not_treated": True, "existing_hairs_per_cm2": 60}, {"upper_arc": True}),
        {**small(), "combing_side": "left", "raise_share": 0.1},
        size("3", 3, divided_into=["1+1+1", "1+1"], dividing_loss=0.05),
        size("M", 4.4, divided_into=["1+1+1+1"]),
        zones({"order": 2}, {"order": 1}),
        care(kind="temperature", low_c=2.0, high_c=8.0),
        care(kind="reminder"),
        care(kind="reminder", starts="opening", once=False),
        care(kind="reminder", at="09:30"),
        care(kind="reminder", at="09:30", once=True, every_minutes=None),
        # A published count left 6 % of its units unaccounted: 45/42/7 % (Springer 2010, 21-22).
        {**size("2", 2), "donor": donor({"1": 0.45, "2": 0.42})["donor"]},
        # Another prints shares that add up to 99.99 % (Plast Aesthet Res 2017;4:150-154).
        density({"1": 0.9999}),
    ],
)
def test_what_is_allowed(raw: dict[str, Any]):
    assert told(raw) == []


def test_contradictions_show_while_fields_are_wrong():
    raw = put(zones({"area_cm2": None}, {"neighbours": ["Z9"]}), "case", "not a code")
    assert [line.split(":")[0] for line in told(raw)] == ["case", 'zone 1 "Z0"', 'zone 2 "Z1"']


# Files that cannot be read, or are no TOML.


def test_missing_file(tmp_path: Path):
    with pytest.raises(OrroomError, match=r"There is no file .*nowhere.toml. Check the path of the plan."):
        load_plan(tmp_path / "nowhere.toml")


def test_folder_instead_of_a_file(tmp_path: Path):
    with pytest.raises(OrroomError, match=r"is a folder, not a plan. Give the plan.toml inside it."):
        load_plan(tmp_path)


def test_no_ordinary_file():
    with pytest.raises(OrroomError, match="is not an ordinary file"):
        load_plan(Path("/dev/null"))


def test_no_permission(monkeypatch: pytest.MonkeyPatch):
    def refuse(*_: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "open", refuse)
    with pytest.raises(OrroomError, match="is not readable"):
        load_plan(SAMPLES / "hairline" / "plan.toml")


def test_path_that_cannot_be(tmp_path: Path):
    for path in (tmp_path / ("x" * 5000), Path("a\0b")):
        with pytest.raises(OrroomError, match="cannot be read"):
            load_plan(path)


def test_enormous_file(tmp_path: Path):
    file = tmp_path / "plan.toml"
    file.write_bytes(b"#" * 1_000_001)
    with pytest.raises(OrroomError, match="is larger than 1 MB"):
        load_plan(file)


def test_not_utf_8(tmp_path: Path):
    lines = problems_of(tmp_path / "plan.toml", 'format = 1\ntitle = "Höhe"'.encode("latin-1"))
    assert lines == ["line 2: is not UTF-8 text; save the file with the encoding UTF-8"]
    case = new_case(tmp_path / "case.orroom")
    found = str(Problem("plan", "is a case file", "give a plan as text, such as a plan in sample_cases"))
    with pytest.raises(PlanInvalidError) as wrong:
        load_plan(case)
    assert [str(each) for each in wrong.value.problems] == [found]


@pytest.mark.parametrize(
    ("content", "expected"),
    [
        (
            'case = "A"\ncase = "B"\n',
            'line 2, column 11: the same key is given twice (case = "B"); remove one',
        ),
        ("x = { a = 1, a = 2 }", "line 1, column 19: the same key is given twice"),
        ("[limits]\n[limits]\n", "line 2, column 8: the same heading is given twice ([limits])"),
        (
            "harvests = []\n[[harvests]]",
            "line 2, column 11: adds to a table that is already complete ([[harvests]])",
        ),
        ("\ncase\n", "line 2, column 5: a name without a value (case); write name = value"),
        (
            "case = DEMO",
            "line 1, column 8: the value is missing or unclear (case = DEMO); write a number, true",
        ),
        ("case = 1 2", "line 1, column 10: extra text after the value"),
        ('title = "a\nb = 1', "line 1, column 11: text is not closed"),
        ("title = 'a", "end of the file: text is not closed (title = 'a)"),
        ("x = [1\ny = 2", "line 2, column 1: a list is not closed (y = 2); add the comma or the ]"),
        ("x = {a = 1\n", "line 1, column 11: a table in braces is not closed"),
        (
            'x = "a\x07"',
            'line 1, column 7: has an invalid character (x = "a<U+0007>"); remove it',
        ),
        (r'x = "C:\plan"', r'a single backslash in text (x = "C:\plan"); write two backslashes'),
        ("[zones", "end of the file: a heading is not closed ([zones)"),
        ("= 1", "line 1, column 1: is not a key, heading or comment (= 1)"),
        ("x = " + "[" * 5000, "plan: is nested too deeply"),
        ("x = " + "9" * 5000, "plan: has a number with too many digits"),
    ],
)
def test_what_is_no_toml_is_told_by_line_and_column(tmp_path: Path, content: str, expected: str):
    [line] = problems_of(tmp_path / "plan.toml", content)
    assert expected in line


def test_nan_in_a_file(tmp_path: Path):
    text = (SAMPLES / "hairline" / "plan.toml").read_text(encoding="utf-8").replace("4.0", "nan", 1)
    expected = ['zone 1 "HL": area_cm2: nan is not valid; use a number above 0 and up to 400']
    assert problems_of(tmp_path / "plan.toml", text) == expected


# Whatever else may come.

texts = st.text(st.characters(exclude_categories=()), max_size=12)
names = (
    st.sampled_from([*Plan.__struct_fields__, "key", "label", "kind", "shape", "mix", "1", "M", "[key]"])
    | texts
)
plain = st.none() | st.booleans() | st.integers() | st.floats() | st.dates() | st.datetimes() | texts
anything = st.recursive(
    plain, lambda inner: st.lists(inner, max_size=4) | st.dictionaries(names, inner, max_size=4)
)


def answers_in_words(raw: dict[str, Any]) -> None:
    """Either a plan, or problems in plain words that are safe to show."""
    lines = told(raw)
    assert not [line for line in lines if JARGON.search(line) or hidden_character(line)]
    if lines:
        with pytest.raises(PlanInvalidError):
            plan_from_raw(raw, "plan.toml")
    else:
        assert isinstance(plan_from_raw(raw, "plan.toml").planned(), int)


@given(st.dictionaries(names, anything, max_size=6))
@settings(max_examples=100, deadline=None)
def test_any_values_are_answered_in_words(raw: dict[str, Any]):
    answers_in_words(raw)


@given(data=st.data(), name=st.sampled_from(SOUND))
@settings(max_examples=100, deadline=None)
def test_a_sound_plan_with_any_value_put_anywhere_is_answered_in_words(data: st.DataObject, name: str):
    raw = sample(name)
    target: Any = raw
    while True:
        places = list(target) if isinstance(target, dict) else list(range(len(target)))
        place = data.draw(
            st.sampled_from(places) | names if isinstance(target, dict) else st.sampled_from(places)
        )
        deeper = isinstance(target, list) or place in target
        if not deeper or not isinstance(target[place], dict | list) or not data.draw(st.integers(0, 4)):
            break
        target = target[place]
    target[place] = data.draw(anything)
    answers_in_words(raw)


def test_one_problem_is_not_called_problems():
    one = Problem("zones", "is missing", "add it")
    assert str(PlanInvalidError("plan.toml", [one])).startswith("plan.toml: 1 problem in the plan\n")
    assert str(PlanInvalidError("plan.toml", [one, one])).startswith("plan.toml: 2 problems in the plan\n")
