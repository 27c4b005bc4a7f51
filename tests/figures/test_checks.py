"""Advice on plans: one test a rule, named after it, and what the sample plans are advised."""

from __future__ import annotations

import re
from pathlib import Path
from random import Random
from typing import Any

import pytest
from click.testing import CliRunner
from hypothesis import given as given_any
from hypothesis import strategies as st
from msgspec.structs import replace

from orroom.case.earlier import Session, ZoneBefore
from orroom.case.plan import Plan
from orroom.cli import main
from orroom.figures.checks import CHECKS, COMMON_PRACTICE, advice_on, team_of
from orroom.files.plan_file import load_plan, plan_from_raw
from orroom.words.plan import plan_overview

SAMPLES = Path(__file__).parents[2] / "sample_cases"
SIZES = [{"key": key, "label": f"{key} hairs", "hairs": int(key)} for key in "1234"]
MULTI = {"key": "M", "label": "multi-unit", "hairs": 4.4}


def zone(key: str, kind: str | None, targets: dict[str, int], **fields: Any) -> dict[str, Any]:
    """A zone of 10 cm², unless told otherwise."""
    row = {"key": key, "label": f"zone {key.lower()}", "area_cm2": 10, "targets": targets, **fields}
    return row if kind is None else {**row, "kind": kind}


def plan(*zones: dict[str, Any], **fields: Any) -> Plan:
    return plan_from_raw({"case": "DEMO-1", "sizes": [*SIZES, MULTI], "zones": list(zones), **fields}, "plan")


def donor(mix: dict[str, float]) -> dict[str, Any]:
    """A strip that gives 800 grafts: 10 × 1 cm × 80."""
    return {"strip_length_cm": 10, "strip_width_cm": 1, "grafts_per_cm2": [80], "mix": mix}


def staff(cutters: int, placers: int) -> list[dict[str, str]]:
    roles = ["cutting"] * cutters + ["placing"] * placers
    return [{"initials": f"A{place}", "role": role} for place, role in enumerate(roles)]


def said(given: Plan, rule: str) -> list[str]:
    assert rule in {check.name for check in CHECKS}
    return [each.sentence for each in advice_on(given) if each.rule == rule]


def test_advise_only_ones_in_hairline():
    # Common practice, no source. Multi-unit grafts are left to their own rule, so that nothing is told twice.
    mixed = {"1": 100, "2": 20, "3": 5, "M": 4}
    given = plan(zone("A", "hairline", mixed), zone("B", "frontal", mixed), zone("C", None, mixed))
    rule = "advise_only_ones_in_hairline"
    assert said(given, rule) == ["zone a: 20 × 2, 5 × 3 planned as well as ones"]
    assert said(plan(zone("A", "hairline", {"1": 100, "2": 0})), rule) == []


def test_advise_no_multi_unit_where_seen():
    # Common practice, no source.
    kinds = [
        "hairline",
        "temporal",
        "lateral-hump",
        "frontal",
        "mid-scalp",
        "vertex-transition",
        "vertex",
        "scar",
        None,
        "part-line",
    ]
    given = plan(*(zone(f"Z{place}", kind, {"1": 50, "M": place + 1}) for place, kind in enumerate(kinds)))
    assert said(given, "advise_no_multi_unit_where_seen") == [
        "zone z0: 1 multi-unit graft planned",
        "zone z1: 2 multi-unit grafts planned",
        "zone z2: 3 multi-unit grafts planned",
        "zone z9: 10 multi-unit grafts planned",
    ]


def test_advise_gradual_density():
    # Threshold: a third of the denser zone, common practice, no source. 300 beside 200 is a third, 199 more.
    rule = "advise_gradual_density"
    for second, expected in (
        (200, []),
        (199, ["zone a next to zone b: 30.0 and 19.9 grafts/cm², a step of 34 %"]),
        (0, []),  # no grafts there: what grows there already is not known
    ):
        zones = zone("A", None, {"1": 300}), zone("B", None, {"1": second}, neighbours=["A"])
        assert said(plan(*zones), rule) == expected
    assert said(plan(zone("A", None, {"1": 300}), zone("B", None, {"1": 10})), rule) == []  # not neighbours


def test_advise_gradual_hairs_per_graft():
    # Threshold: one hair per graft, common practice, no source.
    rule = "advise_gradual_hairs_per_graft"
    for second, expected in (
        ({"2": 100}, []),
        (
            {"2": 99, "3": 1},
            ["zone a next to zone b: 1.0 and 2.0 hairs per graft"],
        ),
        ({"M": 100}, ["zone a next to zone b: 1.0 and 4.4 hairs per graft"]),
        ({}, []),
    ):
        zones = zone("A", None, {"1": 100}, neighbours=["B"]), zone("B", None, second, neighbours=["A"])
        assert said(plan(*zones), rule) == expected  # named from both sides, told once


def test_advise_gradual_hairs_per_cm2():
    # Threshold: half the denser zone, common practice, no source. 400 hairs beside 200 are half, 199 more.
    rule = "advise_gradual_hairs_per_cm2"
    for second, expected in (
        (200, []),
        (199, ["zone a next to zone b: 40 and 20 hairs/cm², a step of 50 %"]),
        (0, []),
    ):
        zones = zone("A", None, {"2": 200}), zone("B", None, {"1": second}, neighbours=["A"])
        assert said(plan(*zones), rule) == expected
    # 27 ones, 40 twos, 56 threes per cm²: the steps of grafts and of hairs a graft are within their limits.
    hard = plan(
        zone("A", "hairline", {"1": 270}),
        zone("B", "frontal", {"2": 400}, neighbours=["A", "C"]),
        zone("C", "mid-scalp", {"3": 560}),
        limits={"dense_grafts_per_cm2": 60},
    )
    assert [(each.rule, each.sentence) for each in advice_on(hard)] == [
        (rule, "zone a next to zone b: 27 and 80 hairs/cm², a step of 66 %"),
        (rule, "zone b next to zone c: 80 and 168 hairs/cm², a step of 52 %"),
    ]


@given_any(st.lists(st.integers(0, 400), min_size=2, max_size=5), st.randoms(use_true_random=False))
def test_steps_are_the_same_from_either_side(counts: list[int], rng: Random):
    """Whichever of two zones comes first and whichever names the other, a step is as large."""
    keys = "ABCDE"[: len(counts)]
    sizes = [rng.choice("1234M") for _ in counts]
    chain = [
        zone(key, None, {sizes[place]: counts[place]}, neighbours=[*keys[place + 1 : place + 2]])
        for place, key in enumerate(keys)
    ]
    back = [
        zone(key, None, {sizes[place]: counts[place]}, neighbours=[*keys[max(0, place - 1) : place]])
        for place, key in reversed(list(enumerate(keys)))
    ]
    for rule in ("advise_gradual_density", "advise_gradual_hairs_per_graft", "advise_gradual_hairs_per_cm2"):
        one, other = (
            sorted(
                sorted(re.findall(r"zone [a-e]|[\d.]+(?= and| grafts| hairs)|\d+ %", each)) for each in found
            )
            for found in (said(plan(*chain), rule), said(plan(*back), rule))
        )
        assert one == other


def test_steps_count_old_hair_where_both_zones_give_theirs():
    """40 and 50 hairs/cm² there already make 30 beside 100 new ones 70 beside 150: 53 %; 60 there, 40 %."""
    rule = "advise_gradual_hairs_per_cm2"
    for old, other, expected in (
        (40, 50, ["zone a next to zone b: 70 and 150 hairs/cm², old and new, a step of 53 %"]),
        (60, 50, []),
        (60, None, ["zone a next to zone b: 30 and 100 hairs/cm², a step of 70 %"]),
    ):
        known = {} if other is None else {"existing_hairs_per_cm2": other}
        zones = (
            zone("A", None, {"1": 300}, existing_hairs_per_cm2=old),
            zone("B", None, {"2": 500}, neighbours=["A"], **known),
        )
        assert said(plan(*zones), rule) == expected
    bare = zone("B", None, {}, neighbours=["A"], existing_hairs_per_cm2=0, not_treated=True)
    del bare["targets"]
    edge = plan(zone("A", None, {"1": 300}, existing_hairs_per_cm2=0), bare)
    assert said(edge, rule) == ["zone a next to zone b: 30 and 0 hairs/cm², old and new, a step of 100 %"]


def test_advise_upper_arc_first():
    # Common practice, no source. 200 and 290 on 10 cm², as in a vertex planned 20 and 29 grafts/cm².
    rule = "advise_upper_arc_first"
    up, low = zone("UP", "vertex-transition", {"1": 200}, upper_arc=True), zone("LOW", "vertex", {"1": 290})
    thin = "zone up: 20.0 hairs/cm², and 29.0 in zone low below it"
    assert said(plan(up, low), rule) == [thin]
    assert said(plan(low, up), rule) == [thin, "zone up is placed after zone low, which lies below it"]
    assert said(plan({**up, "targets": {"1": 290}}, low, zone("F", "frontal", {"1": 900})), rule) == []
    old = [{**each, "existing_hairs_per_cm2": hairs} for each, hairs in ((up, 20), (low, 5))]
    assert said(plan(*old), rule) == []  # 40 beside 34
    assert said(plan({**up, "upper_arc": False}, low), rule) == []


def test_advise_combing_side_as_full():
    # Common practice, no source. By kind: 250 on 20 cm² at the left, 150 on 10 cm² at the right.
    rule = "advise_combing_side_as_full"
    zones = (
        zone("A", "frontal", {"1": 100}, side="left"),
        zone("B", "frontal", {"1": 150}, side="left"),
        zone("C", "frontal", {"1": 150}, side="right"),
        zone("D", "vertex", {"1": 900}, side="right"),
        zone("E", "frontal", {"1": 900}, side="centre"),
    )
    assert said(plan(*zones, combing_side="left"), rule) == [
        "hair is combed from the left: zone a and zone b 12.5 hairs/cm², zone c 15.0"
    ]
    assert said(plan(*zones, combing_side="right"), rule) == []
    assert said(plan(*zones), rule) == []


def test_advise_sites_that_fit():
    # By hand: 61.1 units (111.2 hairs, Dermatol Surg 2017;43(5), read) of the 0.547 / (π/4 · 0.01) = 69.65
    # discs of 1 mm leave 8.55 sites per cm².
    rule = "advise_sites_that_fit"
    for grafts, found in ((85, 0), (86, 1)):
        given = plan(zone("A", None, {"1": grafts}, existing_hairs_per_cm2=111.2))
        assert len(said(given, rule)) == found
    assert said(given, rule) == [
        "zone a: 8.6 grafts/cm² planned between 111.2 hairs/cm²; about 8.5 sites/cm² fit, 1 mm apart"
    ]
    closer = zone("A", None, {"1": 86}, existing_hairs_per_cm2=111.2)
    assert said(plan(closer, limits={"least_site_mm": 0.9}), rule) == []
    assert said(plan(zone("A", None, {"1": 900})), rule) == []  # what is there is not given


def test_advise_bounds_of_zones_kept():
    # Arithmetic: 100 ones and 50 twos on 10 cm² are 20 hairs and 15 grafts per cm².
    rule, mixed = "advise_bounds_of_zones_kept", {"1": 100, "2": 50}
    at = zone("A", None, mixed, least_hairs_per_cm2=20, most_grafts_per_cm2=15)
    beyond = zone("B", None, mixed, least_hairs_per_cm2=20.1, most_grafts_per_cm2=14.9)
    assert said(plan(at, beyond), rule) == [
        "zone b: 20.0 hairs/cm² planned, below its least of 20.1",
        "zone b: 15.0 grafts/cm² planned, above its most of 14.9",
    ]
    # 33 on 1.1 cm² are 30: what a computer's division loses is no breach, 29.999999999999996 is not below.
    at = zone("C", None, {"1": 33}, area_cm2=1.1, least_hairs_per_cm2=30, most_grafts_per_cm2=30)
    assert 33 / 1.1 < 30
    assert said(plan(at), rule) == []


def test_advise_sizes_within_donor_estimate():
    # Arithmetic: 800 grafts, half of them ones and a quarter twos; the last quarter has no size.
    rule, mix = "advise_sizes_within_donor_estimate", {"1": 0.5, "2": 0.25}
    assert said(plan(zone("A", None, {"1": 400, "2": 200}), donor=donor(mix)), rule) == []
    assert said(plan(zone("A", None, {"1": 401, "2": 200, "3": 200}), donor=donor(mix)), rule) == [
        "size 1: 401 planned, 400 expected from the donor",
        "size 3: 200 planned, 0 expected from the donor",
        "in all: 801 planned, 800 expected from the donor",
    ]
    assert said(plan(zone("A", None, {"1": 9000})), rule) == []


def test_advise_density_up_to_dense_packing():
    # Dense packing begins above 30/cm²: Nakatsui, Wong, Groot, Dermatol Surg 2008;34(8):1016-1025, read;
    # from 28: Wong 2010, read. A setting.
    rule = "advise_density_up_to_dense_packing"
    dense = plan(zone("A", None, {"1": 300}), zone("B", None, {"1": 301}))
    assert dense.limits.dense_grafts_per_cm2 == 30
    assert said(dense, rule) == ["zone b: 30.1 grafts/cm², above the limit of 30"]
    set_lower = plan(zone("A", None, {"1": 281}), limits={"dense_grafts_per_cm2": 28})
    assert said(set_lower, rule) == ["zone a: 28.1 grafts/cm², above the limit of 28"]
    # A target of exactly the mark may round up by part of a graft: 30 × 3.05 = 91.5 becomes 92.
    target = {"grafts_per_cm2": 30, "mix": {"1": 1}}
    rounded = {"key": "A", "label": "zone a", "area_cm2": 3.05, "density": target}
    assert said(plan(rounded), rule) == []


def test_advise_few_grafts_in_scars():
    # Threshold: 20 per cm², common practice, no source.
    rule = "advise_few_grafts_in_scars"
    given = plan(
        zone("A", "scar", {"1": 200}), zone("B", "scar", {"1": 201}), zone("C", "frontal", {"1": 300})
    )
    assert said(given, rule) == ["zone b: 20.1 grafts/cm², in a scar; 20 is usual at most"]


def after(case: str, code: str, *zones: ZoneBefore) -> Plan:
    """A plan with this code, after this earlier case."""
    whole = plan(zone("A", "hairline", {"1": 9}))
    earlier = Session(
        case=case, seal="ab" * 32, entries=9, opened_at_ms=0, utc_offset_minutes=0, zones=zones, taken={}
    )
    return replace(whole, case=code, earlier=case, sessions=(earlier,))


@pytest.mark.parametrize(
    ("earlier", "code", "alike"),
    [
        ("P-0417", "P-0417-2", True),
        ("P-0417-1", "P-0417-2", True),
        ("P-0417-D1", "P-0417-D2", True),
        ("P-0417A", "P-0417B", True),
        ("P-0417_A", "P-0417", True),
        ("P-0417", "P-0418", False),
        ("P-0417-2", "P-0418-2", False),
        ("ROOM3", "P-0417", False),
    ],
)
def test_advise_codes_of_one_patient(earlier: str, code: str, alike: bool):
    # How a clinic makes its codes: common practice, no source.
    found = said(after(earlier, code), "advise_codes_of_one_patient")
    assert found == ([] if alike else [f"earlier case {earlier}, this case {code}: are they of one patient?"])


def test_advise_earlier_zones_and_sizes_in_plan():
    rule = "advise_earlier_zones_and_sizes_in_plan"
    here = ZoneBefore(key="A", label="zone a", placed={"1": 9}, hairs=9)
    elsewhere = ZoneBefore(key="X", label="zone x", placed={"1": 1, "M": 2}, hairs=11)
    assert said(after("P-1", "P-2", here), rule) == []
    later = after("P-1", "P-2", here, elsewhere)
    without = replace(later, sizes=tuple(each for each in later.sizes if each.key != "M"))
    lacks_zone, lacks_size = said(without, rule)
    assert lacks_zone.startswith("3 grafts of earlier cases are in zone X, which this plan lacks; add it")
    assert lacks_size.startswith("2 multi-unit grafts of earlier cases: this plan lacks size M")
    assert said(later, rule) == [lacks_zone]


def test_advise_placing_front_to_back():
    # Common practice, no source. The temporal zone lies at the side and may come at any time.
    rule = "advise_placing_front_to_back"
    front, middle = zone("A", "hairline", {"1": 9}), zone("B", "mid-scalp", {"1": 9})
    side, back = zone("C", "temporal", {"1": 9}), zone("D", "vertex", {"1": 9})
    assert said(plan(front, middle, side, back), rule) == []
    assert said(plan(back, side, front, middle), rule) == [
        "zone a (hairline) is placed after zone d (vertex)",
        "zone b (mid-scalp) is placed after zone d (vertex)",
    ]
    empty = zone("D", "vertex", {})
    assert said(plan(empty, front), rule) == []


def test_advise_team_that_finishes_in_time():
    # 400/h a placer: Tykocinski & Shapiro, Hair Transplantation, 5th ed. 2010, read; 2,500 grafts = 30 to 40
    # person-hours in all, so 62.5 a person-hour at the slower end: Rassman, read.
    rule = "advise_team_that_finishes_in_time"
    large = plan(zone("A", None, {"1": 6000}), staff=staff(2, 1))
    assert said(large, rule) == [
        "placing 6,000 grafts takes 1 placer 15.0 h, above 8 h",
        "cutting and placing 6,000 grafts takes 3 people 32.0 h, above 8 h",
    ]
    at_the_limit = {"zones": zone("A", None, {"1": 2000}), "staff": staff(2, 2)}  # 2000 / (4 × 62.5) = 8.0 h
    assert said(plan(at_the_limit["zones"], staff=at_the_limit["staff"]), rule) == []
    shorter = plan(at_the_limit["zones"], staff=at_the_limit["staff"], limits={"day_hours": 7.5})
    assert len(said(shorter, rule)) == 1
    assert said(plan(zone("A", None, {"1": 9000})), rule) == []  # nobody named
    assert said(plan(zone("A", None, {"1": 9000}), staff=staff(3, 0)), rule) == []  # no placers named


def test_published_hours():
    # 2400 / (3 × 400) = 2.0 h (Tykocinski & Shapiro, as above, read); 2,500 grafts take up to 40 person-hours
    # (Rassman, read).
    assert team_of(plan(zone("A", None, {"1": 2400}), staff=staff(0, 3))) == (3, 3, 2.0, None)
    assert team_of(plan(zone("A", None, {"1": 2500}), staff=staff(3, 2))).all_work_hours == 40 / 5


# The table.


def test_every_rule_has_a_test_of_its_name():
    assert {f"test_{check.name}" for check in CHECKS} == {
        name for name in globals() if name.startswith("test_advise_")
    }


def test_every_rule_says_why_and_where_from():
    for check in CHECKS:
        assert check.name.startswith("advise_")
        assert check.find.__doc__
        assert check.reason
        assert check.source == COMMON_PRACTICE or re.search(r"\d{4}|arithmetic", check.source), check.name


# What the sample plans are advised.

SAMPLE_ADVICE = {
    "hairline": [
        ("advise_density_up_to_dense_packing", ("HL",)),
        ("advise_density_up_to_dense_packing", ("HR",)),
    ],
    "frontal-midscalp": [
        ("advise_density_up_to_dense_packing", ("DL",)),
        ("advise_density_up_to_dense_packing", ("DR",)),
        ("advise_density_up_to_dense_packing", ("FT",)),
    ],
    "vertex": [],
    "two-lots": [
        ("advise_gradual_hairs_per_graft", ("HL", "FC")),
        ("advise_gradual_hairs_per_graft", ("HR", "FC")),
        ("advise_density_up_to_dense_packing", ("HL",)),
        ("advise_density_up_to_dense_packing", ("HR",)),
    ],
}


@pytest.mark.parametrize("name", SAMPLE_ADVICE)
def test_advice_on_the_sample_plans(name: str):
    given = load_plan(SAMPLES / name / "plan.toml")
    advice = advice_on(given)
    assert [each.rule for each in advice] == [rule for rule, _ in SAMPLE_ADVICE[name]]
    for each, (_, zones) in zip(advice, SAMPLE_ADVICE[name], strict=True):
        assert all(given.zone_by_key[zone].label in each.sentence for zone in zones)
    assert all(each.kind for each in given.zones)


@pytest.mark.parametrize("name", SAMPLE_ADVICE)
def test_check_tells_the_advice_and_never_refuses(name: str):
    file = SAMPLES / name / "plan.toml"
    result = CliRunner().invoke(main, ["check", str(file)])
    assert result.exit_code == 0
    head = "Remarks (none blocks the plan):" if SAMPLE_ADVICE[name] else "Remarks: none."
    assert head in result.output.splitlines()
    for each in advice_on(load_plan(file)):
        assert f"  {each.sentence}" in result.output.splitlines()
        assert each.rule not in result.output  # a name for engineers
        assert f"    Why: {each.reason}.\n    Source: {each.source}." in result.output


def test_check_tells_the_hours_of_the_team():
    text = plan_overview(load_plan(SAMPLES / "frontal-midscalp" / "plan.toml"))
    # 2,400 / (4 placers × 400 an hour) = 1.5 h; 2,400 / (7 cutters and placers × 62.5 an hour) = 5.5 h
    assert "at published rates placing takes 1.5 h, cutting and placing up to 5.5 h" in text
    assert "published rates" not in plan_overview(plan(zone("A", None, {"1": 9}), staff=staff(1, 0)))


def test_check_names_zones_without_a_kind():
    text = plan_overview(plan(zone("A", None, {"1": 9}), zone("B", "vertex", {"1": 9})))
    assert "  No kind given, so some checks skip: zone a" in text.splitlines()


def test_check_names_zones_without_neighbours():
    """40 ones per cm² in front of 6 multi-unit grafts, neither naming the other: no step is checked."""
    apart = [zone("A", "hairline", {"1": 400}), zone("B", "frontal", {"M": 60})]
    line = "  No neighbours given, so steps are not checked: zone a, zone b"
    assert plan_overview(plan(*apart)).splitlines()[-1] == line
    touching = plan(apart[0], {**apart[1], "neighbours": ["A"]}, zone("C", "vertex", {}))
    assert "No neighbours" not in plan_overview(touching)  # and nothing is planned in the third
    assert "No neighbours" not in plan_overview(plan(apart[0]))


def test_check_adds_up_hairs():
    """By hand: 100 ones and 50 threes on 10 cm², 60 multi-unit grafts of 4.4 on 12 cm²: 250 + 264 hairs."""
    text = plan_overview(plan(zone("A", None, {"1": 100, "3": 50}), zone("B", None, {"M": 60}, area_cm2=12)))
    assert "  in all: 514 hairs, 2.45 hairs a graft, 23.4 hairs/cm² (22.0–25.0 by zone)" in text.splitlines()
    assert [row.split()[-1] for row in text.splitlines() if row.startswith("  zone ")] == [
        "hairs/cm²",
        "25.0",
        "22.0",
    ]
    # 800 grafts of which 0.5 are ones, 0.25 twos, the rest without a size: a mean of 1.0 hairs a graft.
    readings = donor({"1": 0.5, "2": 0.25}) | {"grafts_per_cm2": [70, 90]}
    text = plan_overview(plan(zone("A", None, {"1": 100}), donor=readings))
    # s = 14.14, /√2 = 10, × t(0.975; 1) = 12.706 (printed tables, from memory): 0 to 2,071 grafts.
    assert "  800 hairs (0–2,071), by the mix of sizes" in text.splitlines()


def test_a_plan_without_grafts_adds_up_to_none():
    assert "  in all: no grafts" in plan_overview(plan(zone("A", None, {}))).splitlines()
