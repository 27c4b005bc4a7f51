"""The settings page by page, and how each is changed: dialogues over a sheet. It runs without a terminal."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import partial
from typing import Final, get_args

from orroom.case.plan import CareRound, Person, Size
from orroom.case.terms import ROLES, SIZE_KEYS, Bell, CareKind, Theme
from orroom.files.settings_file import as_written
from orroom.screens.settings.limits import limit_rows
from orroom.screens.settings.role_keys import key_rows
from orroom.screens.settings.sheet import Row, Sheet
from orroom.screens.terminal.asking import Choice, Dialogue, Number, Option, Words

BELL_WORDS: Final[dict[Bell, str]] = {
    "off": "off: for refusals only",
    "prompts": "prompts: also when care becomes due",
    "taps": "taps: also at every entry, twice at a take-back",
}
CARE_WORDS: Final[dict[CareKind, str]] = {
    "wet": "wetting",
    "renew": "renewing solution",
    "temperature": "reading a temperature",
}
STAFF_ROLES: Final[tuple[str, ...]] = (*ROLES, "record", "surgeon")


@dataclass(frozen=True, slots=True)
class Page:
    """Rows that belong together."""

    name: str
    rows: tuple[Row, ...]


def pages(sheet: Sheet) -> tuple[Page, ...]:
    """All pages as the settings stand now."""
    return (
        Page("look, bell", _general(sheet)),
        Page("sizes", _sizes(sheet)),
        Page("care", _care(sheet)),
        Page("limits", limit_rows(sheet)),
        Page("staff", _staff(sheet)),
        *(Page(f"{role} keys", key_rows(sheet, role)) for role in ROLES),
    )


def _numbered(values: Iterable[tuple[str, object]]) -> tuple[Option, ...]:
    return tuple(Option(key, label, value) for key, (label, value) in zip("123456789", values, strict=False))


# Look, bell, folder.


def _general(sheet: Sheet) -> tuple[Row, ...]:
    settings = sheet.settings
    folder = settings.cases or "the folder that orroom is started in"
    return (
        Row("theme", settings.theme, sheet.has("theme"), partial(_theme, sheet)),
        Row("bell", BELL_WORDS[settings.bell], sheet.has("bell"), partial(_bell, sheet)),
        Row("cases folder", folder, sheet.has("cases"), partial(_folder, sheet)),
    )


def _theme(sheet: Sheet) -> Dialogue:
    theme = yield Choice("Theme:", _numbered((each, each) for each in get_args(Theme)))
    sheet.put(("theme",), theme)
    return None


def _bell(sheet: Sheet) -> Dialogue:
    bell = yield Choice("The bell rings for", _numbered((words, bell) for bell, words in BELL_WORDS.items()))
    sheet.put(("bell",), bell)
    return None


def _folder(sheet: Sheet) -> Dialogue:
    other = yield Choice("Cases folder:", _numbered((("another one", True), ("as it comes", False))))
    folder = None
    if other:
        folder = yield Words("Cases are kept in:", fault=partial(sheet.fault, ("cases",)))
    sheet.put(("cases",), folder)
    return None


# Lists: change an entry's field, take it out, add one.


def _sizes(sheet: Sheet) -> tuple[Row, ...]:
    sizes, here = sheet.settings.sizes, sheet.has("sizes")
    rows = [
        Row(f"{size.key}  {size.label}", _hairs(size.hairs), here, partial(_size, sheet, n, size))
        for n, size in enumerate(sizes)
    ]
    if len(sizes) < len(SIZE_KEYS):
        rows.append(Row("+ add a size", "", here, partial(_new_size, sheet)))
    return tuple(rows)


def _hairs(mean: float) -> str:
    return f"{mean:g} {'hair' if mean == 1 else 'hairs'}"


def _size(sheet: Sheet, number: int, size: Size) -> Dialogue:
    loc = ("sizes", number)
    what = yield _what_of(size.label, ["label", *(["hairs"] if size.key == "M" else [])])
    if what == "label":
        value: object = yield Words("It is called:", fault=partial(sheet.fault, (*loc, "label")))
        sheet.put((*loc, "label"), value)
    elif what == "hairs":
        mean = yield Number(
            "Its hairs, a mean:", "hairs", decimals=True, fault=partial(sheet.fault, (*loc, "hairs"))
        )
        sheet.put((*loc, "hairs"), as_written(mean))
    else:
        sheet.put(loc, None)
    return None


def _new_size(sheet: Sheet) -> Dialogue:
    used = {size.key for size in sheet.settings.sizes}
    names = {"M": "multi-unit"}
    free = [(names.get(key, f"{key} hairs"), key) for key in SIZE_KEYS if key not in used]
    key = yield Choice("Add which size?", _numbered(free))
    loc = ("sizes", len(sheet.settings.sizes))
    hairs: float = int(key) if key != "M" else 0
    if key == "M":
        hairs = yield Number(
            "Its hairs, a mean:",
            "hairs",
            decimals=True,
            fault=lambda mean: sheet.fault(loc, {"key": "M", "label": "multi-unit", "hairs": mean}),
        )
    label = names.get(key, "1 hair" if key == "1" else f"{key} hairs")
    sheet.put(loc, {"key": key, "label": label, "hairs": as_written(hairs)})
    return None


def _care(sheet: Sheet) -> tuple[Row, ...]:
    care, here = sheet.settings.care, sheet.has("care")
    rows = [
        Row(each.label, _care_words(each), here, partial(_round, sheet, n, each))
        for n, each in enumerate(care)
    ]
    rows.append(Row("+ add a care round", "", here, partial(_new_round, sheet)))
    return tuple(rows)


def _care_words(care: CareRound) -> str:
    band = (
        f", {care.low_c:g} to {care.high_c:g} °C"
        if care.low_c is not None and care.high_c is not None
        else ""
    )
    if care.outside_minutes is not None:
        band += f", outside that every {care.outside_minutes:g} min"
    return f"every {care.every_minutes:g} min, overdue after {care.grace_minutes:g} more{band}"


def _round(sheet: Sheet, number: int, care: CareRound) -> Dialogue:
    loc = ("care", number)
    band = ["low_c", "high_c"]
    of_band = [*band, "outside_minutes"] if care.kind == "temperature" else []
    what = yield _what_of(care.label, ["label", "every_minutes", "grace_minutes", *of_band])
    if what == "label":
        text = yield Words("It is called:", fault=partial(sheet.fault, (*loc, "label")))
        sheet.put((*loc, "label"), text)
    elif what:
        unit = "°C" if what in band else "min"
        fault = partial(sheet.fault, (*loc, what))
        value = yield Number(f"{care.label}, {FIELD_WORDS[what]}:", unit, decimals=True, fault=fault)
        sheet.put((*loc, what), as_written(value))
    else:
        sheet.put(loc, None)
    return None


def _new_round(sheet: Sheet) -> Dialogue:
    kind = yield Choice(
        "Add care of which kind?", _numbered((words, kind) for kind, words in CARE_WORDS.items())
    )
    loc, used = ("care", len(sheet.settings.care)), {care.key for care in sheet.settings.care}
    key = next(key for n in range(1, 99) if (key := kind if n == 1 else f"{kind}-{n}") not in used)
    band = {"low_c": 2, "high_c": 8} if kind == "temperature" else {}
    entry: dict[str, object] = {
        "key": key,
        "label": CARE_WORDS[kind],
        "kind": kind,
        "every_minutes": 15,
        **band,
    }

    def fault(field: str) -> Callable[[object], str]:
        return lambda value: sheet.fault(loc, {**entry, field: value})

    entry["label"] = yield Words("It is called:", fault=fault("label"))
    every = yield Number("Every how many minutes?", "min", decimals=True, fault=fault("every_minutes"))
    entry["every_minutes"] = as_written(every)
    sheet.put(loc, entry)
    return None


def _staff(sheet: Sheet) -> tuple[Row, ...]:
    staff, here = sheet.settings.staff, sheet.has("staff")
    rows = [
        Row(each.initials, each.role, here, partial(_person, sheet, n, each)) for n, each in enumerate(staff)
    ]
    rows.append(Row("+ add a person", "", here, partial(_new_person, sheet)))
    return tuple(rows)


def _person(sheet: Sheet, number: int, person: Person) -> Dialogue:
    loc = ("staff", number)
    what = yield _what_of(person.initials, ["initials", "role"])
    if what == "initials":
        text = yield Words("Initials:", capitals=True, fault=partial(sheet.fault, (*loc, "initials")))
        sheet.put((*loc, "initials"), text)
    elif what == "role":
        role = yield Choice(f"{person.initials} does", _numbered((each, each) for each in STAFF_ROLES))
        sheet.put((*loc, "role"), role)
    else:
        sheet.put(loc, None)
    return None


def _new_person(sheet: Sheet) -> Dialogue:
    loc = ("staff", len(sheet.settings.staff))
    initials = yield Words(
        "Initials, no names:",
        capitals=True,
        fault=lambda text: sheet.fault(loc, {"initials": text, "role": "cutting"}),
    )
    role = yield Choice(f"{initials} does", _numbered((each, each) for each in STAFF_ROLES))
    sheet.put(loc, {"initials": initials, "role": role})
    return None


FIELD_WORDS: Final = {
    "label": "name",
    "hairs": "hairs",
    "every_minutes": "interval",
    "grace_minutes": "overdue after",
    "low_c": "lowest",
    "high_c": "highest",
    "outside_minutes": "interval while outside that",
    "initials": "initials",
    "role": "work",
}


def _what_of(name: str, fields: list[str]) -> Choice:
    """Which field of an entry is changed; or ``None``: it is taken out."""
    return Choice(
        f"{name}: change",
        (*_numbered((FIELD_WORDS[each], each) for each in fields), Option("x", "take it out", None)),
    )
