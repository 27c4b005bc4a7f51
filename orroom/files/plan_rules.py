"""What fields of a plan must not say against each other: one function a rule, listed in one of two tables.

The first docstring line of a rule says what it refuses. Rules read the plan as written, so that they speak
even while some of its fields are wrong.
"""

import math
from collections.abc import Callable, Iterator, Mapping
from contextlib import suppress
from typing import Final

from msgspec import Struct, ValidationError, convert

from orroom.case.plan import wrong_with_pieces
from orroom.case.shapes import Outline, Shape, where_it_meets_itself
from orroom.case.terms import PLACERS_CARE, SIZE_KEYS
from orroom.files.plan_words import KEY_FIELDS, ONE_OF, Loc, one_of, shown

Raw = Mapping[str, object]

#: Rounding of shares printed to three decimals may take a mix a hair above 1.
MOST_MIX: Final = 1.0005
LEAST_DENSITY_MIX: Final = 0.99
MAX_ZONE_CM2: Final = 400
MULTI_UNIT_HAIRS: Final = (1, 12)
#: The field of a recorded plan that no file has.
NOT_TYPED: Final = "sessions"


class Finding(Struct, frozen=True):
    """One thing wrong, and where it stands."""

    loc: Loc
    wrong: str
    right: str


Rule = Callable[[Raw], Iterator[Finding]]


# What was read, taken as it comes: anything of the wrong type counts as not there.


def _rows(raw: Raw, name: str) -> Iterator[tuple[Loc, Raw]]:
    rows = raw.get(name)
    if isinstance(rows, list | tuple):
        yield from (((name, place_), row) for place_, row in enumerate(rows) if isinstance(row, Mapping))


def _table(row: Raw, name: str) -> Raw:
    value = row.get(name)
    return value if isinstance(value, Mapping) else {}


def _texts(row: Raw, name: str) -> Iterator[tuple[int, str]]:
    value = row.get(name)
    if isinstance(value, list | tuple):
        yield from ((place_, text) for place_, text in enumerate(value) if isinstance(text, str))


def _number(value: object) -> float | None:
    known = isinstance(value, int | float) and not isinstance(value, bool) and -1e9 < value < 1e9
    return float(value) if known and isinstance(value, int | float) else None


def _given(row: Raw, *names: str) -> list[str]:
    return [name for name in names if row.get(name) is not None]


def _keys(raw: Raw, name: str) -> tuple[str, ...]:
    """The keys of a list's entries, or none at all while one of them cannot be read."""
    keys = [row.get("key") for _, row in _rows(raw, name)]
    texts = tuple(key for key in keys if isinstance(key, str))
    return tuple(dict.fromkeys(texts)) if len(texts) == len(keys) else ()


def _mixes(raw: Raw) -> Iterator[tuple[Loc, Raw]]:
    for loc, zone in _rows(raw, "zones"):
        yield (*loc, "density", "mix"), _table(_table(zone, "density"), "mix")
    yield ("donor", "mix"), _table(_table(raw, "donor"), "mix")


def _shapes(raw: Raw) -> Iterator[tuple[Loc, Shape]]:
    for loc, zone in _rows(raw, "zones"):
        with suppress(ValidationError):
            yield (*loc, "shape"), convert(zone.get("shape"), Shape)


# What contradicts something else in the plan.


def refuse_same_key_twice(raw: Raw) -> Iterator[Finding]:
    """Two entries of one list with the same key, or two people with the same initials."""
    for name, field in KEY_FIELDS.items():
        first: dict[str, Loc] = {}
        for loc, row in _rows(raw, name):
            key = row.get(field)
            if isinstance(key, str) and first.setdefault(key, loc) != loc:
                wrong = f"{shown(key)} is already used by {ONE_OF[name]} {int(first[key][1]) + 1}"
                yield Finding(
                    (*loc, field),
                    wrong,
                    f"use {'initials' if field == 'initials' else 'a key'} not used elsewhere",
                )


def refuse_reserved_care_key(raw: Raw) -> Iterator[Finding]:
    """A care round named like the one for grafts with the placers, which the limits set."""
    for loc, care in _rows(raw, "care"):
        if care.get("key") == PLACERS_CARE:
            yield Finding(
                (*loc, "key"),
                f"{shown(PLACERS_CARE)} is reserved for grafts with the placers",
                "choose another key, and set the time with the placers with limits.with_placers_seconds",
            )


def refuse_hairs_unlike_size(raw: Raw) -> Iterator[Finding]:
    """A size of 1 to 4 with other hairs than its key, or a multi-unit graft below one hair."""
    least, most = MULTI_UNIT_HAIRS
    for loc, size in _rows(raw, "sizes"):
        key, hairs = size.get("key"), _number(size.get("hairs"))
        if hairs is None:
            continue
        if key in ("1", "2", "3", "4") and hairs != int(str(key)):
            yield Finding((*loc, "hairs"), f"{hairs:g} does not match size {shown(key)}", f"use {key}")
        if key == "M" and not least <= hairs <= most:
            wrong = f'{hairs:g} is not valid for size "M"'
            yield Finding((*loc, "hairs"), wrong, f"use a mean from {least} to {most} hairs")


def refuse_division_that_makes_hairs(raw: Raw) -> Iterator[Finding]:
    """A way to divide a size into sizes the plan has not, into itself, or into more hairs than it has."""
    hairs = {
        str(size["key"]): number
        for _, size in _rows(raw, "sizes")
        if "key" in size and (number := _number(size.get("hairs"))) is not None
    }
    for loc, size in _rows(raw, "sizes"):
        for position, pieces in _texts(size, "divided_into"):
            key, into = str(size.get("key")), tuple(pieces.split("+"))
            if (
                key in hairs
                and set(into) <= set(SIZE_KEYS)
                and (wrong := wrong_with_pieces(key, into, hairs))
            ):
                right = 'use sizes of the plan that have its hairs or fewer in all, such as "1+2" for a 3'
                yield Finding((*loc, "divided_into", position), f"{shown(pieces)}: {wrong}", right)


def refuse_area_given_not_once(raw: Raw) -> Iterator[Finding]:
    """A zone with both an area and a shape, or with neither."""
    for loc, zone in _rows(raw, "zones"):
        given = _given(zone, "area_cm2", "shape")
        if len(given) != 1:
            wrong = "has both area_cm2 and shape" if given else "has neither area_cm2 nor shape"
            yield Finding(loc, wrong, "keep one of them" if given else "add one of them")


def refuse_targets_given_not_once(raw: Raw) -> Iterator[Finding]:
    """A zone with both targets and a density, or with neither; with any of them, if it is not treated."""
    for loc, zone in _rows(raw, "zones"):
        given = _given(zone, "targets", "density")
        if zone.get("not_treated") is True:
            for name in given:
                yield Finding((*loc, name), "is set, but the zone is not treated", "remove one of them")
        elif len(given) != 1:
            wrong = "has both targets and density" if given else "has neither targets nor density"
            yield Finding(loc, wrong, "keep one of them" if given else "add one of them")


def refuse_length_without_segments(raw: Raw) -> Iterator[Finding]:
    """A strip with a length and no number of segments: the one means nothing without the other."""
    for loc, harvest in _rows(raw, "harvests"):
        if _given(harvest, "strip_length_mm", "segments") == ["strip_length_mm"]:
            wrong = "is set, but segments is not"
            yield Finding((*loc, "strip_length_mm"), wrong, "set segments too, or remove it")


def refuse_enormous_shape(raw: Raw) -> Iterator[Finding]:
    """A shape with more area than any zone, as from millimetres taken for centimetres."""
    for loc, shape in _shapes(raw):
        if shape.area_cm2 > MAX_ZONE_CM2:
            right = f"use lengths in cm that make at most {MAX_ZONE_CM2} cm²"
            yield Finding(loc, f"has an area of {shape.area_cm2:.0f} cm²", right)


def refuse_outline_that_meets_itself(raw: Raw) -> Iterator[Finding]:
    """An outline that crosses, touches or repeats itself: its area would be counted twice, or taken off."""
    for loc, shape in _shapes(raw):
        if isinstance(shape, Outline) and (wrong := where_it_meets_itself(shape.points_cm)):
            yield Finding(loc, f"the outline {wrong}", "list each corner once, in order around the zone")


def refuse_size_not_in_plan(raw: Raw) -> Iterator[Finding]:
    """A target, a mix or an allowed size that is not among the plan's sizes."""
    sizes = _keys(raw, "sizes")
    if not sizes:
        return
    used: list[tuple[Loc, str]] = [((*loc, str(size)), str(size)) for loc, mix in _mixes(raw) for size in mix]
    for loc, zone in _rows(raw, "zones"):
        used += [((*loc, "targets", str(size)), str(size)) for size in _table(zone, "targets")]
        used += [((*loc, "allowed", position), size) for position, size in _texts(zone, "allowed")]
    for where, size in used:
        if size in SIZE_KEYS and size not in sizes:
            right = f"use {one_of(sizes)}, or add it under [[sizes]]"
            yield Finding(where, f"size {shown(size)} is not one of the plan's sizes", right)


def refuse_target_not_allowed(raw: Raw) -> Iterator[Finding]:
    """Grafts planned in a zone of a size that the zone does not allow."""
    for loc, zone in _rows(raw, "zones"):
        allowed = [size for _, size in _texts(zone, "allowed")]
        mix = _table(_table(zone, "density"), "mix")
        planned: dict[Loc, object] = {
            ("targets", size): share for size, share in _table(zone, "targets").items()
        }
        planned |= {("density", "mix", size): share for size, share in mix.items()}
        for path, share in planned.items():
            if allowed and path[-1] in SIZE_KEYS and path[-1] not in allowed and _number(share):
                wrong = f"size {shown(path[-1])} is planned but not allowed in this zone"
                yield Finding((*loc, *path), wrong, "remove it, or add it to the zone's allowed sizes")


def refuse_unknown_neighbour(raw: Raw) -> Iterator[Finding]:
    """A neighbour that is not another zone of the plan."""
    zones = _keys(raw, "zones")
    for loc, zone in _rows(raw, "zones"):
        for position, neighbour in _texts(zone, "neighbours"):
            where = (*loc, "neighbours", position)
            if neighbour == zone.get("key"):
                yield Finding(where, "names the zone itself", "remove it")
            elif zones and neighbour not in zones:
                others = [key for key in zones if key != zone.get("key")]
                right = f"use {one_of(others)}" if others else "remove it"
                yield Finding(where, f"no zone has the key {shown(neighbour)}", right)


def refuse_unclear_placing_order(raw: Raw) -> Iterator[Finding]:
    """A placing order given for some zones only, or the same for two."""
    ordered = [(loc, zone.get("order")) for loc, zone in _rows(raw, "zones")]
    some_given = any(order is not None for _, order in ordered)
    first: dict[float, Loc] = {}
    for loc, order in ordered:
        where = (*loc, "order")
        number = _number(order)
        if some_given and order is None:
            yield Finding(where, "is missing, but other zones have it", "set it for every zone or for none")
        elif number is not None and first.setdefault(number, loc) != loc:
            wrong = f"{number:g} is already the order of zone {int(first[number][1]) + 1}"
            yield Finding(where, wrong, "give each zone its own order")


def refuse_mix_that_does_not_add_up(raw: Raw) -> Iterator[Finding]:
    """A mix above 1, or a zone's mix that leaves grafts without a size."""
    for loc, mix in _mixes(raw):
        shares = [share for value in mix.values() if (share := _number(value)) is not None]
        total = math.fsum(shares)
        if not mix or len(shares) < len(mix):
            continue
        if total > MOST_MIX:
            yield Finding(loc, f"adds up to {total:.4g}", "make the shares add up to 1 at most")
        elif loc[0] == "zones" and total < LEAST_DENSITY_MIX:
            yield Finding(loc, f"adds up to {total:.4g}", "make the shares add up to 1, within 0.01")


def refuse_temperature_without_band(raw: Raw) -> Iterator[Finding]:
    """A temperature round without its band, or a band on another round."""
    for loc, care in _rows(raw, "care"):
        low, high = _number(care.get("low_c")), _number(care.get("high_c"))
        given = _given(care, "low_c", "high_c", "outside_minutes")
        if care.get("kind") == "temperature":
            for missing in ("low_c", "high_c"):
                if missing not in given:
                    yield Finding(
                        (*loc, missing), "is missing", "a temperature round needs low_c and high_c in °C"
                    )
            if low is not None and high is not None and low >= high:
                wrong = f"{low:g} °C is not below high_c, {high:g} °C"
                yield Finding((*loc, "low_c"), wrong, "set low_c below high_c")
        elif care.get("kind") in ("wet", "renew", "reminder"):
            for extra in given:
                yield Finding((*loc, extra), "is only for temperature rounds", "remove it")


def refuse_round_without_interval(raw: Raw) -> Iterator[Finding]:
    """A care round that does not say how often it comes; only a reminder once at a time of day need not."""
    for loc, care in _rows(raw, "care"):
        reminder_at_a_time = care.get("kind") == "reminder" and care.get("at") is not None
        if care.get("every_minutes") is None and not (reminder_at_a_time and care.get("once") is True):
            yield Finding((*loc, "every_minutes"), "is missing", "add a number from 1 to 480")


def refuse_start_of_other_care(raw: Raw) -> Iterator[Finding]:
    """A time, a start or ``once`` on care that is not a reminder: it is due from the first harvest on."""
    for loc, care in _rows(raw, "care"):
        if care.get("kind") in ("wet", "renew", "temperature"):
            for extra in _given(care, "starts", "at", "once"):
                yield Finding((*loc, extra), "is only for reminders", "remove it")


def refuse_two_starts(raw: Raw) -> Iterator[Finding]:
    """A reminder that counts from the opening or the harvest, and begins at a time of day as well."""
    for loc, care in _rows(raw, "care"):
        if care.get("kind") == "reminder" and len(_given(care, "starts", "at")) == 2:
            yield Finding((*loc, "at"), "is set, and starts is too", "keep one of them")


def refuse_sessions_by_hand(raw: Raw) -> Iterator[Finding]:
    """What earlier cases did, typed into a file: it is taken from their own records."""
    if raw.get(NOT_TYPED) is not None:
        right = "remove it, and name the case before this one as earlier"
        yield Finding((NOT_TYPED,), "is taken from the record of an earlier case, not from a file", right)


#: Every plan in a record passes these, so none is added: an import asks no others.
OF_FORM: Final[tuple[Rule, ...]] = (
    refuse_same_key_twice,
    refuse_reserved_care_key,
    refuse_hairs_unlike_size,
    refuse_area_given_not_once,
    refuse_targets_given_not_once,
    refuse_length_without_segments,
    refuse_enormous_shape,
    refuse_size_not_in_plan,
    refuse_target_not_allowed,
    refuse_unknown_neighbour,
    refuse_unclear_placing_order,
    refuse_mix_that_does_not_add_up,
    refuse_temperature_without_band,
    refuse_round_without_interval,
    refuse_start_of_other_care,
    refuse_two_starts,
)
#: What came later is asked of plan files and of the plan form alone.
RULES: Final[tuple[Rule, ...]] = (
    refuse_outline_that_meets_itself,
    refuse_division_that_makes_hairs,
    refuse_sessions_by_hand,
    *OF_FORM,
)
