"""What a field of an event is. A rule asks for every count, zone or text of an event, whatever its name."""

from collections.abc import Iterator, Sequence
from enum import Enum, auto
from functools import cache
from typing import Annotated, Any, get_args, get_origin, get_type_hints

from msgspec import Struct


class Trait(Enum):
    """What may be said of a field."""

    __hash__ = object.__hash__  # an enumeration's own is slow, and a tap asks for it ten times

    COUNT = auto()  # grafts or sites, at least one
    ZONE = auto()
    SIZE = auto()
    HARVEST = auto()
    LANE = auto()  # a placer at work, by its letter
    CARE = auto()
    PERSON = auto()  # initials
    TEXT = auto()  # typed by somebody
    TIME = auto()  # UTC ms
    DRAWN = auto()  # where grafts were taken from


Count = Annotated[int, Trait.COUNT]
ZoneKey = Annotated[str, Trait.ZONE]
SizeKey = Annotated[str, Trait.SIZE]
HarvestKey = Annotated[str, Trait.HARVEST]
LaneKey = Annotated[str, Trait.LANE]
CareKey = Annotated[str, Trait.CARE]
Initials = Annotated[str, Trait.PERSON]
Text = Annotated[str, Trait.TEXT]
AtMs = Annotated[int, Trait.TIME]


class Having(Struct, frozen=True):
    """A field that has a trait, or is a tuple of parts that have it."""

    name: str
    in_parts: bool


def held(event: Struct, trait: Trait) -> Sequence[Any]:
    """All values of an event that have a trait, those in its parts too; what holds nothing is left out."""
    found: list[Any] = []
    for field in fields_with(type(event), trait):
        value = getattr(event, field.name)
        if field.in_parts:
            for part in value or ():
                found += held(part, trait)
        elif isinstance(value, tuple):
            found += value
        elif value is not None:
            found.append(value)
    return found


@cache
def fields_with(kind: type[Struct], trait: Trait) -> tuple[Having, ...]:
    """The fields of a kind of event that have a trait, in their order."""
    return tuple(
        Having(name, in_parts=trait not in types)
        for name, types in _types(kind).items()
        if trait in types or any(fields_with(part, trait) for part in _parts(types))
    )


@cache
def _types(kind: type[Struct]) -> dict[str, tuple[Any, ...]]:
    """By field, what its type is made of."""
    hints = get_type_hints(kind, include_extras=True)
    return {name: tuple(_made_of(hints[name])) for name in kind.__struct_fields__}


def _made_of(hint: Any) -> Iterator[Any]:  # noqa: ANN401  # any type
    """A type, what it says of itself, and the types it is made of."""
    yield hint
    for each in get_args(hint):
        yield from _made_of(each)


def _parts(types: tuple[Any, ...]) -> list[type[Struct]]:
    """The structs of a field that holds a tuple of them."""
    if not any(get_origin(each) is tuple for each in types):
        return []
    return [each for each in types if isinstance(each, type) and issubclass(each, Struct)]
