"""A plan while it is filled in: what its file would have, valid or not. Every change is a new draft.

A draft is the plain data of a plan file. What is typed that is not a number where one belongs stays in it as
text, so that the rules of plan files say what is wrong, and nothing typed is lost.
"""

import re
from collections.abc import Callable, Mapping
from copy import deepcopy
from typing import Any, Final, NamedTuple

from msgspec.structs import fields, replace

from orroom.case.parts import plain_table
from orroom.case.plan import CareRound, Donor, Harvest, Limits, Plan
from orroom.case.settings import Settings
from orroom.case.terms import SIZE_KEYS, clean
from orroom.errors import Problem
from orroom.files.checker import checked, problems
from orroom.files.plan_fields import IN_SHORT, MEASURES, PAGES, YES, Field, Kind, entries, table
from orroom.files.plan_rules import NOT_TYPED, RULES, Finding, Raw
from orroom.files.plan_words import Loc, shown

#: What a plan file holds.
Draft = dict[str, Any]

_NUMBER: Final = re.compile(r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:e[+-]?[0-9]{1,3})?")
_NO_VALUE: Final = object()

#: What a plan has where its file says nothing, by where that stands; shown in place of an empty field.
_DEFAULTS: Final[dict[str, Any]] = {
    field.name: field.default
    for part in (Limits, CareRound, Donor)
    for field in fields(part)
    if isinstance(field.default, int | float)
}
#: Lists that say nothing while they are empty.
_MAY_BE_EMPTY: Final = frozenset({"care", "staff", "cautions", "neighbours"})
#: Tables inside others that go when their last field does; an empty one would say something else.
_TABLES: Final = frozenset({"targets", "density", "mix", "shape", "slow_tail", "donor", "limits"})


def draft_of(plan: Plan) -> Draft:
    """The draft that is this plan, but for what it took over from earlier cases: no file has that."""
    return {name: each for name, each in _plainly(plain_table(plan)).items() if name != NOT_TYPED}


def draft_from(parts: Mapping[str, Any], code: str = "") -> Draft:
    """A draft that begins with some parts of a plan, such as a clinic's own, and a case code."""
    harvests = [plain_table(Harvest(key="A", label="harvest A"))]
    return {"format": 1, "case": code, **_plainly(parts), "zones": [{}], "harvests": harvests}


def _plainly(value: Any) -> Any:  # noqa: ANN401 - any value of a plan
    """A value as one would type it: whole numbers without a point, nothing for what may be empty and is."""
    if isinstance(value, Mapping):
        return {
            name: _plainly(each) for name, each in value.items() if name not in _MAY_BE_EMPTY or len(each) > 0
        }
    if isinstance(value, list | tuple):
        return [_plainly(each) for each in value]
    return int(value) if isinstance(value, float) and value.is_integer() else value


# What a field holds, as text and from text.


def value_at(draft: Raw, loc: Loc) -> Any:  # noqa: ANN401 - a draft may hold anything
    """What stands at a place, ``None`` if nothing does."""
    here: Any = draft
    for part in loc:
        listed = isinstance(here, list) and isinstance(part, int) and part < len(here)
        if not listed and not (isinstance(here, Mapping) and part in here):
            return None
        here = here[part]
    return here


def text_at(draft: Raw, field: Field) -> str:
    """What a field holds, as it is typed."""
    value = value_at(draft, field.loc)
    if isinstance(value, list) and field.kind in ("keys", "numbers"):
        return " ".join(map(_as_typed, value))
    if isinstance(value, list) and field.kind == "corners":
        return " ".join(
            ",".join(map(_as_typed, corner)) if isinstance(corner, list) else _as_typed(corner)
            for corner in value
        )
    return "" if value is None else _as_typed(value)


def default_text(field: Field) -> str:
    """What goes where a field is left empty, ``""`` if nothing does."""
    default = _DEFAULTS.get(str(field.loc[-1])) if field.loc[0] in ("limits", "care", "donor") else None
    return "" if default is None else f"{default:g}"


def _as_typed(value: object) -> str:
    if isinstance(value, str):
        return value
    if isinstance(value, bool):
        return YES if value else "no"
    return f"{value}" if isinstance(value, int | float) else shown(value)


def _number(text: str) -> int | float | str:
    """The number that a text is, or the text itself."""
    if not _NUMBER.fullmatch(text):
        return text
    return float(text) if set(text) & set(".e") else int(text)


def _corner(text: str) -> list[int | float | str] | str:
    return [_number(each) for each in text.split(",")] if "," in text else text


_READ: Final[dict[Kind, Callable[[str], object]]] = {
    "text": clean,
    "choice": lambda text: True if text == YES else text,
    "number": lambda text: _number(text.strip()),
    "keys": lambda text: text.replace(",", " ").split(),
    "numbers": lambda text: [_number(each.removesuffix(",")) for each in text.split()],
    "corners": lambda text: [_corner(each) for each in text.split()],
}


def with_text(draft: Draft, field: Field, text: str) -> Draft:
    """The draft with a text typed into a field; an empty one takes the field out.

    A zone that gets another key keeps its neighbours: they name it by the new one. One without a label is
    called by its key.
    """
    value = _READ[field.kind](text) if text.strip() else _NO_VALUE
    if field.loc[0] == "cautions" and value is _NO_VALUE:
        value = ""  # its row stays until it is removed
    changed = deepcopy(draft)
    if field.loc[-2:] == ("shape", "kind") and isinstance(value, str):
        old = table(changed["zones"][field.loc[1]], "shape")
        kept = {name: old[name] for name in MEASURES.get(value, ()) if name in old}
        changed["zones"][field.loc[1]]["shape"] = {"kind": value, **kept}
    elif field.loc[-2:] == ("shape", "kind"):
        changed["zones"][field.loc[1]].pop("shape", None)
    else:
        if field.loc[0] == "zones" and field.loc[2:] == ("key",) and value is not _NO_VALUE:
            _rename(changed, value_at(draft, field.loc), value)
            _label(changed["zones"][field.loc[1]], value)
        _put(changed, field.loc, value)
    return changed


def _rename(draft: Draft, old: object, new: object) -> None:
    """Have zones name a neighbour by its new key, if only one zone had the old one."""
    zones = [zone for _, zone in entries(draft, "zones")]
    if [zone.get("key") for zone in zones].count(old) == 1:
        for zone in zones:
            if isinstance(named := zone.get("neighbours"), list):
                named[:] = [new if each == old else each for each in named]


def _label(zone: Draft, key: object) -> None:
    """Call a zone by its key until somebody calls it otherwise."""
    if zone.get("label") in (None, f"zone {zone.get('key')}"):
        zone["label"] = f"zone {key}"


def _put(here: Any, loc: Loc, value: object) -> None:  # noqa: ANN401 - a draft may hold anything
    """Put a value at a place, making the tables on the way; tables left empty go."""
    part, rest = loc[0], loc[1:]
    if not rest:
        if value is _NO_VALUE:
            here.pop(part, None)
        else:
            here[part] = value
        return
    if isinstance(part, str) and not isinstance(here.get(part), dict if isinstance(rest[0], str) else list):
        here[part] = {}
    _put(here[part], rest, value)
    if part in _TABLES and value is _NO_VALUE and here[part] == {}:
        del here[part]


def without(draft: Draft, loc: Loc) -> Draft:
    """The draft without what stands at a place."""
    changed = deepcopy(draft)
    holder = value_at(changed, loc[:-1])
    if isinstance(holder, dict):
        holder.pop(loc[-1], None)
    elif isinstance(holder, list) and isinstance(loc[-1], int) and loc[-1] < len(holder):
        del holder[loc[-1]]
        if not holder and len(loc) > 1 and loc[-2] in _MAY_BE_EMPTY:
            return without(changed, loc[:-1])
    return changed


def with_row(draft: Draft, name: str) -> Draft:
    """The draft with one more entry at the end of a list, filled in as far as that is plain."""
    changed = deepcopy(draft)
    if not isinstance(changed.get(name), list):
        changed[name] = []
    changed[name].append("" if name == "cautions" else _new_entry(changed, name))
    return changed


def _new_entry(draft: Draft, name: str) -> Draft:
    used = {str(entry.get("key")) for _, entry in entries(draft, name)}
    if name == "sizes":
        free = [size for size in SIZE_KEYS if size not in used]
        usual: dict[str, Draft] = {size.key: plain_table(size) for size in Settings().sizes}
        return dict(_plainly(usual.get(free[0], {"key": "M", "label": "multi-unit"}))) if free else {}
    if name == "harvests":
        free = [letter for letter in "ABCDEFGHIJKLMNOPQRST" if letter not in used]
        return {"key": free[0], "label": f"harvest {free[0]}"} if free else {}
    orders = [zone.get("order") for _, zone in entries(draft, "zones")]
    numbers = [order for order in orders if isinstance(order, int)]
    if name == "zones" and numbers and len(numbers) == len(orders):
        return {"order": max(numbers) + 1}
    return {}


# What is wrong, and in which field.


class Wrong(NamedTuple):
    """A problem, and where it is put right: page, row and column from 0, and the field if there is one."""

    problem: Problem
    loc: Loc
    page: int | None
    row: int = 0
    column: int = 0
    field: Field | None = None


class Spot(NamedTuple):
    """Where a field is in the form."""

    page: int
    row: int
    column: int
    field: Field


def spots(draft: Raw) -> list[Spot]:
    """Every field of the form, each on its own page."""
    return [
        Spot(number, place, column, field)
        for number, page in enumerate(PAGES)
        if page.name != IN_SHORT
        for place, row in enumerate(page.rows(draft))
        for column, field in enumerate(row.cells)
        if field is not None
    ]


def wrongs(draft: Draft) -> list[Wrong]:
    """Every problem of a draft, by the rules of plan files, in the order of the file's fields."""
    findings = checked(draft, Plan, RULES)[1]
    everywhere = spots(draft) if findings else []
    exact = {spot.field.loc: spot for spot in everywhere}
    found: dict[Problem, Wrong] = {}
    for finding in findings:
        (known,) = problems(draft, [_as_in_a_form(finding)])
        spot = _spot_of(finding, everywhere, exact) or (_page_of(finding.loc),)
        found.setdefault(known, Wrong(known, finding.loc, *spot))
    return list(found.values())


def _as_in_a_form(finding: Finding) -> Finding:
    """The finding without advice on how a file is written."""
    right = finding.right.replace(", without quotation marks", "").replace(" in quotation marks", "")
    return replace(finding, right=right)


def _spot_of(finding: Finding, everywhere: list[Spot], exact: dict[Loc, Spot]) -> Spot | None:
    """The field of a problem: where it stands, or the first under it that its sentence names."""
    loc = finding.loc
    for end in range(len(loc), 0, -1):
        if loc[:end] in exact:
            return exact[loc[:end]]
    under = [spot for spot in everywhere if loc and spot.field.loc[: len(loc)] == loc]
    named = [spot for spot in under if any(str(part) in finding.wrong for part in spot.field.loc[len(loc) :])]
    return next(iter(named or under), None)


def _page_of(loc: Loc) -> int | None:
    """The page on which the field would stand that is missing altogether."""
    names = [page.name if page.name == IN_SHORT else page.rows_of or page.name for page in PAGES]
    return names.index(str(loc[0])) if loc and len(loc) == 1 and loc[0] in names else None


def plan_of(draft: Draft) -> Plan | None:
    """The plan that a draft is, ``None`` while anything is wrong."""
    return checked(draft, Plan, RULES)[0]
