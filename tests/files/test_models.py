"""Parts and the models that check them: the same fields, the same limits, the same values."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import get_args, get_type_hints

import pytest
from cases import small_plan
from msgspec import convert
from msgspec.structs import fields
from pydantic import ValidationError

from orroom.case.parts import Part, told_of
from orroom.case.plan import CareRound, Limits, Lot, Plan, Size, Zone
from orroom.case.settings import Settings
from orroom.files.models import model_of, part_of
from orroom.files.plan_file import load_plan
from orroom.record.encoding import compact, event_of, plain

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
    body = compact({"plan": plain(plan), "utc_offset_minutes": 60})
    assert event_of("case_opened", body).plan == plan
    assert part_of(Plan, told_of(plan)) == plan


def test_a_whole_number_given_in_code_is_recorded_as_it_is_read_back():
    plan = small_plan()
    again = event_of("case_opened", compact({"plan": plain(plan), "utc_offset_minutes": 60})).plan
    assert compact(plain(again)) == compact(plain(plan))


#: Values at and just beyond each limit, by part and field: what is right, and what is not.
EDGES = [
    (Size, {"key": "M", "label": "m", "hairs": 2.0}, "hairs", (0.001, 12), (0, 12.1, "2", None)),
    (Lot, {"key": "A", "label": "a"}, "segments", (1, 200, None), (0, 201, 1.5, "3", True)),
    (Lot, {"key": "A", "label": "a"}, "key", ("ABCD", "9"), ("", "ABCDE", "a", "Ä")),
    (Lot, {"key": "A", "label": "a"}, "label", ("x" * 40,), ("", "x" * 41, 3)),
    (Limits, {}, "bench_seconds", (10, 3600), (9, 3601, 10.5, None)),
    (Limits, {}, "day_hours", (0.1, 24, 8), (0, 24.5, None)),
    (Limits, {}, "out_of_body_hours", (0.1, 24, 8, None), (0, 24.5, "4")),
    (Limits, {}, "care_until", ("last graft", "end of work", None), ("", "sign-off")),
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
]


@pytest.mark.parametrize(("part", "rest", "field", "right", "wrong"), EDGES)
def test_a_model_and_its_part_have_the_same_limits(
    part: type[Part],
    rest: dict[str, object],
    field: str,
    right: tuple[object, ...],
    wrong: tuple[object, ...],
):
    for value in right:
        assert part_of(part, {**rest, field: value}) == convert({**rest, field: value}, part)
    for value in wrong:
        for check in (part_of, lambda kind, raw: convert(raw, kind)):
            with pytest.raises(ValueError, match=re.escape(field)):
                check(part, {**rest, field: value})


def test_a_field_that_no_part_has_is_refused_by_both():
    with pytest.raises(ValidationError, match="extra"):
        part_of(Limits, {"extra": 1})
    with pytest.raises(ValueError, match="extra"):
        convert({"extra": 1}, Limits)


@pytest.mark.parametrize("part", [Plan, Settings])
def test_models_have_the_fields_and_defaults_of_their_parts(part: type[Part]):
    model = model_of(part)
    assert list(model.model_fields) == list(part.__struct_fields__)
    required = {each.name for each in fields(part) if each.required}
    assert required == {name for name, field in model.model_fields.items() if field.is_required()}


def test_settings_with_nothing_in_them_are_the_defaults():
    assert part_of(Settings, {}) == Settings()
