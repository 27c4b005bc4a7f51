"""What somebody wrote, held against the part that it should be: the part itself, or everything wrong with it.

The part is made in the same walk that finds its mistakes; what its fields may hold is read off their types.
"""

import operator
import re
from collections.abc import Callable, Mapping, Sequence
from difflib import get_close_matches
from typing import Any, Final, TypeVar

from orroom.case.parts import Part
from orroom.case.terms import hidden_character
from orroom.errors import Problem
from orroom.files.plan_rules import NOT_TYPED, Finding, Raw, Rule
from orroom.files.plan_words import Loc, place, shown
from orroom.files.right_words import Allowed, allowed, fields_of, in_words, lengths, required_of

P = TypeVar("P", bound=Part)
Found = list[Finding]

_WITHIN: Final[dict[str, Callable[[Any, Any], bool]]] = {
    "gt": operator.gt,
    "ge": operator.ge,
    "lt": operator.lt,
    "le": operator.le,
}


def checked(raw: object, kind: type[P], rules: Sequence[Rule] = ()) -> tuple[P | None, Found]:
    """The part that was written, or ``None`` and all that is wrong with it; ``rules`` see all fields."""
    found: Found = []
    made = _value(raw, allowed(kind), (), found)
    if isinstance(raw, Mapping):
        found += (finding for rule in rules for finding in rule(raw))
    names = kind.__struct_fields__

    def reading_order(finding: Finding) -> tuple[int, int]:
        first = names.index(str(finding.loc[0])) if finding.loc and finding.loc[0] in names else len(names)
        return first, next((each for each in finding.loc[1:2] if isinstance(each, int)), -1)

    return (None if found else made), sorted(found, key=reading_order)


def problems(raw: Raw, found: Found) -> tuple[Problem, ...]:
    """What was found, each with its place in the file's own words, none of it twice."""
    return tuple(dict.fromkeys(Problem(place(raw, each.loc), each.wrong, each.right) for each in found))


# Each of these answers a value as it is kept, or adds what is wrong to ``found``: then its answer is void.


def _value(value: Any, may: Allowed, loc: Loc, found: Found) -> Any:  # noqa: ANN401 - whatever was written
    match value:
        case None if may.optional:
            return None
        case bool() if may.kind is bool:
            return value
        case str() if may.kind is str:
            return _text(value, may, loc, found)
        case list() | tuple() if may.kind is tuple:
            return _list(value, may, loc, found)
        case Mapping() if may.kind is dict:
            return _named(value, may, loc, found)
        case Mapping() if may.by_kind:
            return _of_a_kind(value, may, loc, found)
        case Mapping() if may.parts:
            return _part(value, may.parts[0], loc, found)
        case _ if _is_one_of(value, may) or _is_number(value, may):
            return float(value) if may.kind is float else value
    right = f"use {in_words(may, loc)}"
    if isinstance(value, str) and may.kind in (int, float):
        right += ", without quotation marks"
    found.append(Finding(loc, f"{shown(value)} is not valid", right))
    return None


def _is_one_of(value: object, may: Allowed) -> bool:
    return any(value == each and type(value) is type(each) for each in may.choices)


def _is_number(value: object, may: Allowed) -> bool:
    given = type(value) is int or type(value) is float
    if not given or may.kind not in (type(value), float):
        return False
    return all(_WITHIN[name](value, limit) for name, limit in may.limits.items())


def _text(text: str, may: Allowed, loc: Loc, found: Found) -> str:
    wrong, right = "", f"use {in_words(may)}"
    if any("\ud800" <= each <= "\udfff" for each in text):
        wrong = f"contains the invisible character {hidden_character(text)}"
        right = "type it again without it"
    elif len(text) < may.limits.get("min_length", 0):
        wrong = "is empty"
    elif len(text) > may.limits.get("max_length", len(text)):
        wrong = f"has {len(text)} characters"
    elif "pattern" in may.limits and not re.fullmatch(may.limits["pattern"], text):
        wrong = f"{shown(text)} is not valid"
    elif may.rule is not None:
        try:
            return may.rule(text)
        except ValueError as refused:
            wrong, _, right = str(refused).partition("; ")
    if wrong:
        found.append(Finding(loc, wrong, right))
    return text


def _list(listed: Sequence[object], may: Allowed, loc: Loc, found: Found) -> tuple[Any, ...]:
    least, most = lengths(may)
    if not least <= len(listed) <= (len(listed) if most is None else most):
        entries = "entry" if len(listed) == 1 else "entries"
        found.append(Finding(loc, f"has {len(listed)} {entries}", f"use {in_words(may, loc)}"))
        if not may.alike:  # a corner of three numbers
            return ()
    return tuple(_value(each, may.entry(at), (*loc, at), found) for at, each in enumerate(listed))


def _named(table: Mapping[str, object], may: Allowed, loc: Loc, found: Found) -> dict[str, Any]:
    if len(table) < may.limits.get("min_length", 0):
        found.append(Finding(loc, f"has {len(table)} entries", f"use {in_words(may)}"))
    names, values = may.entries
    made = {}
    for name, value in table.items():
        if names.choices and name not in names.choices:
            found.append(Finding((*loc, name), "is not a size", f"use {in_words(names)}"))
        made[name] = _value(value, values, (*loc, name), found)
    return made


def _of_a_kind(table: Mapping[str, object], may: Allowed, loc: Loc, found: Found) -> Part | None:
    name = next(iter(fields_of(may.parts[0])))
    kind = table.get(name)
    if isinstance(kind, str) and kind in may.by_kind:
        return _part(table, may.by_kind[kind], loc, found)
    wrong = f"is of kind {shown(kind)}" if name in table else "has no kind"
    found.append(Finding(loc, wrong, f"use {in_words(may)}"))
    return None


def _part(table: Mapping[str, object], part: type[Part], loc: Loc, found: Found) -> Part | None:
    fields, before, given = fields_of(part), len(found), {}
    for name, may in fields.items():
        if name in table:
            given[name] = _value(table[name], may, (*loc, name), found)
        elif name in required_of(part):
            found.append(Finding((*loc, name), "is missing", f"add {in_words(may, (name,))}"))
    for name in (name for name in table if name not in fields):
        known = [each for each in fields if each != NOT_TYPED]
        close = get_close_matches(name, known, n=1)
        right = f"did you mean {close[0]}?" if close else f"remove it; known here: {', '.join(known)}"
        found.append(Finding((*loc, name), "is not a known field", right))
    if len(found) > before:
        return None
    try:
        return part(**{name: given[name] for name in part.__struct_fields__ if name in given})
    except ValueError as refused:  # what no single field shows: an outline without area
        wrong, _, right = str(refused).partition("; ")
        found.append(Finding(loc, wrong, right))
        return None
