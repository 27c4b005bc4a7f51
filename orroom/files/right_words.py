"""What a field of a plan or of settings may hold, read off the types of its part, and the same in words."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import cache
from types import NoneType, UnionType
from typing import Annotated, Any, Final, Literal, NamedTuple, Union, get_args, get_origin

from msgspec import structs

from orroom.case.parts import Part
from orroom.case.terms import CARE_KEY, CASE_CODE, CLOCK_TIME, DIVISION, HARVEST_KEY, INITIALS, ZONE_KEY
from orroom.files.plan_words import Loc, one_of

_PATTERN_WORDS: Final = {
    CASE_CODE: '1 to 32 capitals, digits, "-" or "_", a capital or digit first, such as "DEMO-0417"',
    ZONE_KEY: '1 to 12 capitals, digits or "-", a capital or digit first, such as "FL"',
    HARVEST_KEY: '1 to 4 capitals or digits, such as "A"',
    CARE_KEY: '1 to 16 small letters, digits or "-", a letter first, such as "wet"',
    CLOCK_TIME: 'a time of day in quotation marks, such as "09:30"',
    DIVISION: 'the sizes of the pieces in quotation marks, such as "1+2"',
    INITIALS: 'a capital, then up to three capitals or digits, such as "AB"',
}
#: The limits of a field, by msgspec's names.
_LIMITS: Final = ("gt", "ge", "lt", "le", "pattern", "min_length", "max_length")


class Allowed(NamedTuple):
    """What a field may hold."""

    #: ``int``, ``float``, ``bool``, ``str``, ``Literal``, ``tuple``, ``dict`` or ``Part``.
    kind: object
    #: By msgspec's names; of a text, a list or a table the length.
    limits: Mapping[str, Any] = {}
    #: Answers a text as it is kept, or raises ``ValueError``.
    rule: Callable[[str], str] | None = None
    #: Whether it may be left empty.
    optional: bool = False
    #: The words of a ``Literal``.
    choices: tuple[object, ...] = ()
    #: The entries of a list, one by one or all alike; the names and the values of a table.
    entries: tuple[Allowed, ...] = ()
    alike: bool = False
    #: The parts that a table may be; one of several names its kind.
    parts: tuple[type[Part], ...] = ()

    def entry(self, place: int) -> Allowed:
        """What a list may hold at a place."""
        return self.entries[0 if self.alike else place]

    @property
    def by_kind(self) -> Mapping[str, type[Part]]:
        """Several parts, each by the kind that it names."""
        return {str(each.__struct_config__.tag): each for each in self.parts} if len(self.parts) > 1 else {}


@cache
def allowed(written: Any) -> Allowed:  # noqa: ANN401 - the type of a field
    """What a field of this type may hold."""
    origin, inner = get_origin(written), get_args(written)
    if origin is Annotated:
        may = allowed(inner[0])
        for meta in inner[1:]:
            limits = {name: limit for name in _LIMITS if (limit := getattr(meta, name)) is not None}
            may = may._replace(limits={**may.limits, **limits}, rule=(meta.extra or {}).get("rule", may.rule))
        return may
    if origin in (Union, UnionType):
        given = [allowed(each) for each in inner if each is not NoneType]
        parts = tuple(part for each in given for part in each.parts)
        return given[0]._replace(parts=parts, optional=NoneType in inner)
    if origin is Literal:
        return Allowed(Literal, choices=inner)
    if origin in (tuple, dict):
        alike = inner[-1] is Ellipsis
        return Allowed(
            origin, entries=tuple(allowed(each) for each in inner if each is not Ellipsis), alike=alike
        )
    if issubclass(written, Part):
        return Allowed(Part, parts=(written,))
    return Allowed(written)


@cache
def fields_of(part: type[Part]) -> Mapping[str, Allowed]:
    """What each field of a part may hold, its kind first if it names one."""
    config = part.__struct_config__
    kind = {config.tag_field: allowed(Literal[config.tag])} if config.tag_field else {}
    return {**kind, **{field.name: allowed(field.type) for field in structs.fields(part)}}


@cache
def required_of(part: type[Part]) -> tuple[str, ...]:
    """The fields of a part that have to be given."""
    optional = {field.name for field in structs.fields(part) if not field.required}
    return tuple(name for name in fields_of(part) if name not in optional)


def right_value(loc: Loc, part: type[Part]) -> str:
    """What would be right at a place in a part, such as ``a number from 1 to 480``."""
    may = allowed(part)
    for step in loc:
        if may.kind is tuple and isinstance(step, int):
            may = may.entry(step)
        elif may.kind is dict:
            may = may.entries[1]
        elif may.by_kind and step == "kind":
            return one_of(sorted(may.by_kind))
        elif may.kind is Part and (of := [each for each in may.parts if step in fields_of(each)]):
            may = fields_of(of[0])[str(step)]  # a measure is alike in all shapes that have it
        else:
            return "a field of a plan"
    return in_words(may, loc)


def in_words(may: Allowed, loc: Loc = ()) -> str:
    """What would be right where this is allowed; ``loc`` ends with the field's name."""
    if may.kind is int:
        return f"a whole number {_range(may.limits)}"
    if may.kind is float:
        return f"a number {_range(may.limits)}"
    if may.kind is bool:
        return "true or false"
    if may.kind is Literal:
        return one_of(may.choices)
    if may.kind is tuple:
        return _list_in_words(may, loc)
    if may.kind is dict:
        names, values = may.entries
        each = f" by {in_words(names)}, each" if names.choices else ", each name"
        return f"a table{each} with {in_words(values)}"
    if may.by_kind:
        return f"a table whose kind is {one_of(sorted(may.by_kind))}"
    if may.parts:
        return f"a table with {', '.join(required_of(may.parts[0]) or fields_of(may.parts[0]))}"
    if "pattern" in may.limits:
        return _PATTERN_WORDS[may.limits["pattern"]]
    if "max_length" in may.limits:
        least, most = may.limits["min_length"], may.limits["max_length"]
        return f"text of {least} to {most} characters in quotation marks"
    return "text in quotation marks"


def _list_in_words(may: Allowed, loc: Loc) -> str:
    least, most = lengths(may)
    entries = "entries"
    if most is not None:
        entries = f"{most} entries" if least == most else f"{least} to {most} entries"
    elif least:
        entries = f"at least {least} {'entry' if least == 1 else 'entries'}"
    if may.entries[0].parts:
        return f"{entries}, each under its own [[{loc[-1] if loc else ''}]] heading"
    return f"a list of {entries}, each {in_words(may.entries[0])}"


def lengths(may: Allowed) -> tuple[int, int | None]:
    """The least and the most entries of a list."""
    if not may.alike:
        return len(may.entries), len(may.entries)
    return may.limits.get("min_length", 0), may.limits.get("max_length")


def _range(limits: Mapping[str, Any]) -> str:
    if "lt" in limits:
        return f"above {limits['gt']} and below {limits['lt']}"
    if "gt" in limits:
        return f"above {limits['gt']} and up to {limits['le']}"
    return f"from {limits['ge']} to {limits['le']}"
