"""Every field of a summary is in every format: change one, and what is written reads otherwise.

So no row, column or section can go without a test that fails. What a format leaves out is listed, with where
it is said instead, or why it is not. Formats are asked for on the command line, however they are made.
"""

from __future__ import annotations

import re
import sys
from collections.abc import Collection, Iterator, Mapping
from functools import cache
from itertools import count
from pathlib import Path
from typing import Any, Final, Literal, get_args, get_origin

import pytest
from cases import MINUTE_MS, MORNING_MS
from click.testing import CliRunner
from pydantic.fields import FieldInfo

from orroom.case.terms import SIGN_OUT
from orroom.cli import main, reports
from orroom.formats.csv_tables import to_csv_tables
from orroom.formats.markdown import markdown
from orroom.formats.summary_blocks import after_first_page, blocks_of
from orroom.summary.fields import Part, is_moment, unit_of
from orroom.summary.summary import Summary

#: Charts are on the page and in print.
DRAWN: Final = {
    *(
        "start_of_work",
        "end_of_work",
        "harvests.harvest",
        "progress.at",
        "progress.cut_spoilt_left_out",
        "progress.placed",
    ),
    *("waiting_curve.harvest", "waiting_curve.out_ms", "waiting_curve.share"),
}
#: By what a format leaves out, a whole part if the name ends in a point: what says it instead, or why not.
Reasons = Mapping[str, str]
_KEY: Final = "a key, for programs: its label or sentence"
NOT_IN_WORDS: Final[Reasons] = {
    **dict.fromkeys(DRAWN, "a chart, where there are charts"),
    "accounts.": "sizes; the sentence that says where a harvest does not add up",
    "care.care": _KEY,
    "broken_limits.limit": _KEY,
    "care.kind": _KEY,
    "care_given.care": _KEY,
    "care_missed.care": _KEY,
    "care_paused.care": _KEY,
    "corrections.seq": _KEY,
    "corrections.zone": _KEY,
    "counted.size": _KEY,
    "counts_made.seq": _KEY,
    "discards.grafts": "the row's last column, added up",
    "division_losses.size": _KEY,
    "divisions_asked.seq": _KEY,
    "divisions_asked.size": _KEY,
    "earlier_sign_offs.confirmed": "what was said aloud when the case was closed last",
    "kept_grafts.harvest": _KEY,
    "fates.seq": _KEY,
    "fates.size": _KEY,
    "format": "for programs",
    "in_all.adds_up": "adds_up",
    "left_open.mismatch": _KEY,
    "still_open.": "mismatches, the final count, and what was left, each by itself",
    "mismatches.amount": "its sentence",
    "mismatches.mismatch": _KEY,
    "mismatches.unit": "its sentence",
    "not_intact": "the first caution",
    "notes.seq": _KEY,
    "out_of_body_sizes.label": "sizes.label",
    "out_of_body_sizes.placed": "sizes.placed",
    "out_of_body_sizes.waiting": "grafts in dishes and with the placers",
    "out_of_body_zones.label": "zones.label",
    "out_of_body_zones.placed": "zones.grafts_placed",
    "out_of_body.harvest": _KEY,
    "projected.harvest": _KEY,
    "projected.size": _KEY,
    "reopened.seq": _KEY,
    "revisions.seq": _KEY,
    "share_level": "the last caution",
    "sizes.adds_up": "adds_up",
    "spot_checks.zone": _KEY,
    "status": "signed_off",
    "zones.side": "a drawing of the zones as they lie",
    "zones.hairs_placed": "hairs/cm², placed",
    "zones.hairs_planned": "hairs/cm², planned",
    "zones.kind": _KEY,
    "zones.over": "placed / planned by size",
    "zones.owed": "placed / planned by size",
    **dict.fromkeys(
        (
            f"{part}.exact_{end}"
            for part in (
                "quality",
                "quality_by_person",
                "quality_by_hour",
                "faults",
                "faults_by_person",
                "faults_by_hour",
                "follicles",
            )
            for end in ("low", "high")
        ),
        "one range is enough to read, the 95 % range",
    ),
}
_ENTRIES: Final = "entries one by one are in the case's own export"
_NOBODY: Final = "nobody is named beside a figure"
_OF_ZONES: Final = "what was done in a zone, by all together"
_FORETOLD: Final = "an observation says what was found"
_WILSON: Final = "the limits by Wilson"
_OF_HARVESTS: Final = "times out of the body, harvest by harvest"
NOT_IN_FHIR: Final[Reasons] = {
    "accounts.": "counts by size; where a harvest does not add up",
    "breaks.": "working hours, which leave them out",
    "broken_limits.at": _ENTRIES,
    "broken_limits.done_at": _ENTRIES,
    "broken_limits.limit": _KEY,
    "broken_limits.who": _NOBODY,
    "care.kind": _KEY,
    **{f"care_given.{name}": _ENTRIES for name in ("care", "due_at", "late_ms", "on_time")},
    "care_missed.": "rounds missed, in all",
    "care_paused.": _ENTRIES,
    "corrections.": _ENTRIES,
    "counted.": "how many groups were counted, and in how many the record differs",
    "counts_made.": _ENTRIES,
    "discards.": "shares discarded, by reason",
    "division_losses.": "hairs lost in dividing, in all",
    "divisions_asked.": "grafts divided, in all",
    "donor.": _FORETOLD,
    "earlier_cases.opened": "the seal of its record",
    "kept_grafts.harvest": _KEY,
    "kept_grafts.out_since": "time out of the body, by harvest",
    "earlier_sign_offs.": _ENTRIES,
    "opened_with.": "the bundle names the version that wrote it",
    "not_entered": "a share that is left out",
    "final_count.first_by": _NOBODY,
    "final_count.second_by": _NOBODY,
    "format": "for programs that read the summary itself",
    "follicles.exact_high": _WILSON,
    "follicles.exact_low": _WILSON,
    "follicles.hairs_per_graft_intact": "the share of follicles transected",
    "follicles.hairs_per_graft_possible": "the share of follicles transected",
    "in_all.adds_up": "adds_up",
    "left_open.at": "its sentence",
    "left_open.mismatch": _KEY,
    "harvests.cut_in_all": _OF_HARVESTS,
    "harvests.harvest_ended": _OF_HARVESTS,
    "harvests.harvest_started": _OF_HARVESTS,
    "harvests.longest_out_at_placing_ms": _OF_HARVESTS,
    "harvests.mean_out_at_placing_ms": _OF_HARVESTS,
    "harvests.placed": _OF_HARVESTS,
    "harvests.segments": _OF_HARVESTS,
    "harvests.segments_done": _OF_HARVESTS,
    "harvests.waiting": _OF_HARVESTS,
    "harvests.waiting_out_ms": _OF_HARVESTS,
    "opened": "start_of_work",
    "opened_by": _NOBODY,
    "out_of_body.graft_hours_high": "its times and shares",
    "out_of_body.graft_hours_low": "its times and shares",
    "mismatches.amount": "its sentence",
    "mismatches.mismatch": _KEY,
    "mismatches.unit": "its sentence",
    "out_of_body_limit_ms": "a setting was not found",
    "out_of_body_reference": "what is published was not found here",
    "pace.finish": _FORETOLD,
    "pace.finish_high": _FORETOLD,
    "pace.finish_later": _FORETOLD,
    "pace.finish_low": _FORETOLD,
    "pace_by_person.": _NOBODY,
    "paper_count.": "a caution, where the paper contradicts itself",
    "people.cut_spoilt_left_out": _NOBODY,
    "people.discarded": _NOBODY,
    "people.divided": _NOBODY,
    "people.entries": _NOBODY,
    "people.placed": _NOBODY,
    "progress.": "counts at the end of the work",
    "projected.": _FORETOLD,
    "quality.exact_high": _WILSON,
    "quality.exact_low": _WILSON,
    "faults.exact_high": _WILSON,
    "faults.exact_low": _WILSON,
    "faults_by_person.": _NOBODY,
    "faults_by_hour.": "faults of the whole case",
    "zone_hands.label": _OF_ZONES,
    "zone_hands.placed": _OF_ZONES,
    "zone_hands.reseated": _OF_ZONES,
    "zone_hands.sites_made": _OF_ZONES,
    "zone_hands.zone": _KEY,
    "fates.": "grafts left at the end",
    "quality_by_hour.": "shares of the whole case",
    "quality_by_person.": _NOBODY,
    "reopened.seq": _KEY,
    "revisions.": _ENTRIES,
    "signed_off.at": "status of the bundle",
    "signed_off.confirmed": _ENTRIES,
    "sizes.adds_up": "adds_up",
    "sizes.hairs_per_graft": "hairs per graft, in all",
    "spot_check_totals.": "shares found faulty",
    "spot_checks.fault": "shares of each fault",
    "spot_checks.follicles": "the share of follicles transected",
    "spot_checks.label": _ENTRIES,
    "spot_checks.transected": "the share of follicles transected",
    "spot_checks.zone": _KEY,
    "status": "signed_off",
    "still_open.": "mismatches, the final count, and what was left, each by itself",
    "times.": "the span of each work's pace",
    "waiting_curve.": "times by which so much was placed",
    "zones.existing_hairs_per_cm2": "the plan's own figure was not found by this operation",
    "zones.kind": _KEY,
    "zones.side": "its label",
    "zones.over": "grafts over in all sizes",
    "zones.owed": "grafts owed in all sizes",
    "notes.seq": _KEY,
}


def kind_of(field: FieldInfo) -> type[Part] | None:
    kinds = (field.annotation, *get_args(field.annotation))
    return next((each for each in kinds if isinstance(each, type) and issubclass(each, Part)), None)


def literals_of(field: FieldInfo) -> list[Any]:
    kinds = (field.annotation, *get_args(field.annotation))
    return [word for each in kinds if get_origin(each) is Literal for word in get_args(each)]


NUMBERS: Final = count(11)
#: What a page asks of a field before it shows it.
ASKED: Final[dict[str, Any]] = {"out_of_body_limit_ms": 5 * MINUTE_MS, "confirmed": (*SIGN_OUT.values(),)[:2]}
KEYS: Final = {"size": ("1", "M"), "harvest": ("A", "B"), "zone": ("LINE", "FRONT")}


def example(name: str, field: FieldInfo, item: int) -> Any:
    """A value for a field of the first or second item of its list, unlike all others."""
    kind, said, number = kind_of(field), str(field.annotation), next(NUMBERS)
    if kind is not None:
        several = get_origin(field.annotation) is tuple
        return tuple(filled(kind, each) for each in (0, 1)) if several else filled(kind, 0)
    if name in ASKED:
        return ASKED[name]
    if literals := literals_of(field):
        return literals[item % len(literals)]
    if "tuple" in said:
        return (f"word {number}",)
    if "dict" in said:
        return {size: number + place for place, size in enumerate(KEYS["size"])}
    if is_moment(field):
        return MORNING_MS + number * MINUTE_MS
    if "bool" in said:
        return item == 0
    if "float" in said:
        return number / 1000 if unit_of(field) == "share" else float(number)
    if "int" in said:
        return number * MINUTE_MS if unit_of(field) == "ms" else number
    if item == 1 and "None" in said:
        return None
    return KEYS[name][item] if name in KEYS else f"word {number}"


def filled(kind: type[Part], item: int) -> Any:
    return kind.model_construct(
        **{name: example(name, field, item) for name, field in kind.model_fields.items()}
    )


def changed(field: FieldInfo, value: Any) -> Any:
    """Another value of the same kind."""
    if literals := literals_of(field):
        return next((each for each in literals if each != value), None)
    match value:
        case bool():
            return not value
        case int() | float() if is_moment(field) or unit_of(field) == "ms":
            return value + 61 * MINUTE_MS
        case float():
            return value + 0.4 if unit_of(field) == "share" else value + 7
        case int():
            return value + 7
        case tuple():
            return (*value[1:], "other word")
        case dict():
            return {key: each + 7 for key, each in value.items()}
    return "other word"


def fields_of(kind: type[Part], path: str = "") -> Iterator[str]:
    """Every field, those of the parts in it too."""
    for name, field in kind.model_fields.items():
        within = kind_of(field)
        yield from [f"{path}{name}"] if within is None else fields_of(within, f"{path}{name}.")


def with_changes(part: Part, names: Collection[str], path: str = "") -> Part:
    """The part with these fields changed, in every item of a list."""
    values: dict[str, Any] = {}
    for name, field in type(part).model_fields.items():
        value, where = getattr(part, name), f"{path}{name}"
        if kind_of(field) is None:
            values |= {name: changed(field, value)} if where in names else {}
        elif not any(each.startswith(f"{where}.") for each in names):
            continue
        elif isinstance(value, tuple):
            values[name] = tuple(with_changes(each, names, f"{where}.") for each in value)
        else:
            values[name] = with_changes(value, names, f"{where}.")
    return part.model_copy(update=values)


@cache
def whole() -> Summary:
    """A summary in which every field holds something."""
    found = filled(Summary, 0)
    assert isinstance(found, Summary)
    return found


#: How each format is asked for on the command line.
ASKED_FOR: Final = {
    "text": ("--format", "md"),
    "terminal": (),
    "page": ("--format", "html"),
    "print": ("--format", "pdf", "--output", "summary.pdf"),
    "programs": ("--format", "json"),
    "fhir": ("--format", "fhir", "--fhir", "r5"),
}


@pytest.fixture(autouse=True)
def a_folder_to_write_in(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)


def written(form: str, changes: Collection[str] = ()) -> str:
    """What is written of the whole with these changes; of print, what it is set from."""
    import typst

    found = with_changes(whole(), changes)
    if form == "tables":
        return "\n".join(to_csv_tables(found).values())
    typeset: list[str] = []

    def typst_compile(*_: object, sys_inputs: Mapping[str, str], **__: object) -> bytes:
        typeset.extend(sys_inputs.values())
        return b""

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(reports, "summed_up", lambda _: (found, ""))
        patch.setattr(typst, "compile", typst_compile)
        for models in ("bundle", "R4B.bundle"):  # slow, and not what is asked here
            patch.setitem(sys.modules, f"fhir.resources.{models}", None)
        result = CliRunner().invoke(main, ["summary", "case", *ASKED_FOR[form]], env={"COLUMNS": "2000"})
    Path("summary.pdf").unlink(missing_ok=True)
    if isinstance(result.exception, KeyError):  # what other parts are looked up by
        return repr(result.exception)
    assert isinstance(result.exception, SystemExit | None)
    return "\n".join((result.output, *typeset))


@pytest.mark.parametrize(
    ("form", "reasons"),
    [("text", NOT_IN_WORDS), ("tables", {}), ("programs", {}), ("fhir", NOT_IN_FHIR)],
    ids=lambda each: each if isinstance(each, str) else "",
)
def test_every_field_of_a_summary_is_in_every_format_or_has_a_reason(form: str, reasons: Reasons):
    names = list(fields_of(Summary))
    assert len(names) > 300
    assert {each for each in reasons if not any(name.startswith(each) for name in names)} == set()
    left_out = [name for name in names if name in reasons or f"{name.partition('.')[0]}." in reasons]
    before = written(form)
    assert {name for name in names if name not in left_out and written(form, [name]) == before} == set()
    if written(form, left_out) != before:
        assert {name for name in left_out if written(form, [name]) != before} == set()


def words_of(text: str) -> list[str]:
    return re.findall(r"\w+(?:[.:,/-]\w+)*", text)


@pytest.mark.parametrize("form", ["page", "print", "terminal"])
def test_what_people_read_has_all_words_of_the_text_in_their_order(form: str):
    import html5lib

    text = re.sub(r"<svg.*?</svg>", "", written(form), flags=re.DOTALL)
    if form == "page":
        text = " ".join(html5lib.parse(text, namespaceHTMLElements=False).itertext())
    blocks = blocks_of if form == "terminal" else after_first_page  # the first page has its own order
    whole_text = markdown(blocks(whole()))  # tables are not parted where there is room
    words, there = words_of(whole_text), iter(words_of(text))
    assert len(words) > 1000
    assert [word for word in words if word not in there][:1] == []


@pytest.mark.parametrize("form", ["page", "print"])
def test_what_is_only_drawn_is_drawn_wherever_there_are_charts(form: str):
    before = written(form)
    assert {name for name in DRAWN if written(form, [name]) == before} == set()
