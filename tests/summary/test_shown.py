"""Every field of a summary is shown where people read it: change one, and the page reads otherwise.

So no row, column or section can go without a test that fails. What no page shows is listed, with its reason.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterator
from functools import cache
from itertools import count
from typing import Any, Final, Literal, get_args, get_origin

import pytest
from cases import MINUTE_MS, MORNING_MS
from pydantic.fields import FieldInfo

from orroom.case.terms import SIGN_OUT
from orroom.formats.html import to_html
from orroom.formats.markdown import to_markdown
from orroom.formats.pdf_parts import as_data
from orroom.summary.fields import Part, is_moment, unit_of
from orroom.summary.summary import Summary

#: Keys and numbers that a page has no use for: labels and sentences say the same to a reader.
FOR_MACHINES: Final = frozenset(
    {"format", "seq", "mismatch", "amount", "unit", "zone", "lot", "care", "kind"}
)
#: What a page shows by other fields, and by which; a name that ends in a point is all within.
SHOWN_BY_OTHERS: Final = {
    "accounts.": "sizes, and the sentence that says where a lot does not add up",
    "counted.size": "its label",
    "discards.grafts": "the row's last column, added up",
    "division_losses.size": "its label",
    "earlier_sign_offs.confirmed": "what was said aloud when the case was closed last",
    "in_all.adds_up": "adds_up",
    "not_sound": "the first caution",
    "projected.size": "what it is of",
    "share_level": "the last caution",
    "sizes.adds_up": "adds_up",
    "status": "signed_off",
    "zones.hairs_placed": "hairs/cm², placed",
    "zones.hairs_planned": "hairs/cm², planned",
    "zones.over": "placed / planned by size",
    "zones.owed": "placed / planned by size",
}
#: What is only drawn: charts are in HTML and PDF.
DRAWN: Final = frozenset(
    {
        *("start_of_work", "end_of_work", "lots.lot"),
        *("progress.at", "progress.cut", "progress.placed"),
        *("waiting_curve.lot", "waiting_curve.out_ms", "waiting_curve.share"),
    }
)


def kind_of(field: FieldInfo) -> type[Part] | None:
    kinds = (field.annotation, *get_args(field.annotation))
    return next((each for each in kinds if isinstance(each, type) and issubclass(each, Part)), None)


def literals_of(field: FieldInfo) -> list[Any]:
    kinds = (field.annotation, *get_args(field.annotation))
    return [word for each in kinds if get_origin(each) is Literal for word in get_args(each)]


NUMBERS: Final = count(11)
#: What a page asks of a field before it shows it.
ASKED: Final[dict[str, Any]] = {"out_of_body_limit_ms": 5 * MINUTE_MS, "confirmed": (*SIGN_OUT.values(),)[:2]}
KEYS: Final = {"size": ("1", "M"), "lot": ("A", "B")}


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


def changes(told: Part, path: str = "") -> Iterator[tuple[str, Part]]:
    """The part with each of its fields changed, one after another, and those of the parts in it."""
    for name, field in type(told).model_fields.items():
        value = getattr(told, name)
        if kind_of(field) is None:
            yield f"{path}{name}", told.model_copy(update={name: changed(field, value)})
        elif isinstance(value, tuple):
            for place, each in enumerate(value):
                for where, other in changes(each, f"{path}{name}."):
                    yield where, told.model_copy(update={name: (*value[:place], other, *value[place + 1 :])})
        else:
            for where, other in changes(value, f"{path}{name}."):
                yield where, told.model_copy(update={name: other})


@cache
def whole() -> Summary:
    """A summary in which every field holds something."""
    told = filled(Summary, 0)
    assert isinstance(told, Summary)
    return told


def seen_in(page: Callable[[Summary], str]) -> dict[str, bool]:
    """By field, whether the page reads otherwise when it is changed, in one item of its list at least."""
    before = page(whole())
    seen: dict[str, bool] = {}
    for where, other in changes(whole()):
        if seen.get(where):
            continue
        try:
            seen[where] = page(other) != before
        except KeyError:  # what other parts are looked up by
            seen[where] = True
    return seen


def not_for_a_page(where: str) -> bool:
    within = any(name.endswith(".") and where.startswith(name) for name in SHOWN_BY_OTHERS)
    return within or where in SHOWN_BY_OTHERS or where.rpartition(".")[2] in FOR_MACHINES


def test_every_field_of_a_summary_is_read_on_its_page():
    seen = seen_in(to_markdown)
    assert len(seen) > 250
    unseen = {where for where, shown in seen.items() if not shown and not not_for_a_page(where)}
    assert unseen - DRAWN == set()
    needless = {where for where in SHOWN_BY_OTHERS if seen.get(where)}
    assert needless == set()


@pytest.mark.parametrize("page", [to_html, as_data])
def test_what_is_only_drawn_is_drawn_on_every_page_with_charts(page: Callable[[Summary], str]):
    before = page(whole())
    seen = {where for where, other in changes(whole()) if where in DRAWN and page(other) != before}
    assert seen == DRAWN


def test_pages_and_print_have_the_sections_of_the_text():
    headings = re.findall(r"^## (.+)$", to_markdown(whole()), re.MULTILINE)
    assert headings
    assert re.findall(r"<h2>(.+?)</h2>", to_html(whole())) == headings
    blocks = json.loads(as_data(whole()))["blocks"]
    assert ["".join(each["of"]) for each in blocks if each["kind"] == "heading"][1:] == headings
