"""The settings page by page, and how each is changed: dialogues over a sheet. It runs without a terminal."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import partial
from typing import Final, get_args

from orroom.case.plan import CareRound, Person, ReminderStart, Size
from orroom.case.terms import CARE_WORDS, ROLES, SIZE_KEYS, STAFF_ROLES, Bell, Theme
from orroom.files.plan_words import Loc
from orroom.files.settings_file import as_written
from orroom.screens.settings.faults import fault_rows
from orroom.screens.settings.limits import limit_rows
from orroom.screens.settings.role_keys import key_rows
from orroom.screens.settings.sheet import Row, Sheet
from orroom.screens.terminal.asking import Choice, Dialogue, Fault, Number, Option, Step, Words
from orroom.words.care import when_it_comes

BELL_WORDS: Final[dict[Bell, str]] = {
    "off": "off for prompts: rings only when an entry is refused",
    "prompts": "prompts: also when care becomes due",
    "taps": "taps: also at every entry, twice for an undo",
}


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
        Page("checks", tuple(fault_rows(sheet))),
    )


def _numbered(values: Iterable[tuple[str, object]]) -> tuple[Option, ...]:
    return tuple(Option(key, label, value) for key, (label, value) in zip("123456789", values, strict=False))


# Look, bell, folder.


def _general(sheet: Sheet) -> tuple[Row, ...]:
    settings = sheet.settings
    themes = _numbered((each, each) for each in get_args(Theme))
    bells = _numbered((words, bell) for bell, words in BELL_WORDS.items())
    folder = settings.cases or "the folder that orroom is started in"
    return (
        sheet.row("theme", settings.theme, ("theme",), Choice("Theme:", themes)),
        sheet.row("bell", BELL_WORDS[settings.bell], ("bell",), Choice("The bell rings for", bells)),
        Row("cases folder", folder, sheet.has("cases"), partial(_folder, sheet)),
    )


def _folder(sheet: Sheet) -> Dialogue:
    other = yield Choice("Cases folder:", _numbered((("another one", True), ("as it comes", False))))
    folder = (yield Words("Cases are kept in:", fault=sheet.fault_at("cases"))) if other else None
    sheet.put(("cases",), folder)
    return None


# Lists: change an entry's field, remove it, add one.


FIELD_WORDS: Final = {
    "label": "name",
    "hairs": "hairs",
    "every_minutes": "interval",
    "grace_minutes": "overdue after",
    "low_c": "lowest",
    "high_c": "highest",
    "outside_minutes": "interval while outside that",
    "starts": "counts from",
    "at": "time of day",
    "once": "once only",
    "initials": "initials",
    "role": "work",
}


def _change(sheet: Sheet, loc: Loc, name: str, steps: Mapping[str, Step]) -> Dialogue:
    """Which field of an entry is changed, and to what; or it is taken out."""
    fields = _numbered((FIELD_WORDS[each], each) for each in steps)
    what = yield Choice(f"{name}: change", (*fields, Option("x", "remove it", None)))
    if what is None:
        sheet.put(loc, None)
    else:
        sheet.put((*loc, what), (yield steps[what]))
    return None


def _called(fault: Fault) -> Words:
    return Words("It is called:", fault=fault)


def _mean_hairs(fault: Fault) -> Number:
    return Number("Its hairs, a mean:", "hairs", decimals=True, fault=fault)


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
    steps: dict[str, Step] = {"label": _called(sheet.fault_at(*loc, "label"))}
    if size.key == "M":
        steps["hairs"] = _mean_hairs(sheet.fault_at(*loc, "hairs"))
    return _change(sheet, loc, size.label, steps)


def _new_size(sheet: Sheet) -> Dialogue:
    used = {size.key for size in sheet.settings.sizes}
    names = {"M": "multi-unit"}
    free = [(names.get(key, f"{key} hairs"), key) for key in SIZE_KEYS if key not in used]
    key = yield Choice("Add which size?", _numbered(free))
    loc = ("sizes", len(sheet.settings.sizes))
    entry = {"key": key, "label": names.get(key, "1 hair" if key == "1" else f"{key} hairs")}
    if key == "M":
        hairs = yield _mean_hairs(lambda mean: sheet.fault(loc, {**entry, "hairs": mean}))
    else:
        hairs = int(key)
    sheet.put(loc, {**entry, "hairs": as_written(hairs)})
    return None


def _care(sheet: Sheet) -> tuple[Row, ...]:
    care, here = sheet.settings.care, sheet.has("care")
    rows = [
        Row(each.label, _care_words(each), here, partial(_round, sheet, n, each))
        for n, each in enumerate(care)
    ]
    return (*rows, Row("+ add a care round", "", here, partial(_new_round, sheet)))


def _care_words(care: CareRound) -> str:
    band = (
        f", {care.low_c:g} to {care.high_c:g} °C"
        if care.low_c is not None and care.high_c is not None
        else ""
    )
    if care.outside_minutes is not None:
        band += f", outside that every {care.outside_minutes:g} min"
    return f"{when_it_comes(care)}, overdue after {care.grace_minutes:g} more{band}"


def _round(sheet: Sheet, number: int, care: CareRound) -> Dialogue:
    loc = ("care", number)
    units = {"every_minutes": "min", "grace_minutes": "min"}
    if care.kind == "temperature":
        units |= {"low_c": "°C", "high_c": "°C", "outside_minutes": "min"}
    steps: dict[str, Step] = {"label": _called(sheet.fault_at(*loc, "label"))}
    for field, unit in units.items():
        ask = f"{care.label}, {FIELD_WORDS[field]}:"
        steps[field] = Number(ask, unit, decimals=True, fault=sheet.fault_at(*loc, field))
    if care.kind == "reminder":
        starts = _numbered((f"the {each}", each) for each in get_args(ReminderStart))
        steps["starts"] = Choice(f"{care.label} counts from", starts)
        steps["at"] = Words("Time of day, such as 09:30:", fault=sheet.fault_at(*loc, "at"))
        steps["once"] = Choice(f"{care.label} comes", _numbered((("once", True), ("again and again", None))))
    return _change(sheet, loc, care.label, steps)


def _new_round(sheet: Sheet) -> Dialogue:
    kinds = _numbered((words, kind) for kind, words in CARE_WORDS.items())
    kind = yield Choice("Add care of which kind?", kinds)
    loc, used = ("care", len(sheet.settings.care)), {care.key for care in sheet.settings.care}
    key = next(key for n in range(1, 99) if (key := kind if n == 1 else f"{kind}-{n}") not in used)
    entry: dict[str, object] = {"key": key, "label": CARE_WORDS[kind], "kind": kind, "every_minutes": 15}
    if kind == "temperature":
        entry |= {"low_c": 2, "high_c": 8, "outside_minutes": 5}

    def fault(field: str) -> Fault:
        return lambda value: sheet.fault(loc, {**entry, field: value})

    entry["label"] = yield _called(fault("label"))
    every = yield Number("Every how many minutes?", "min", decimals=True, fault=fault("every_minutes"))
    entry["every_minutes"] = as_written(every)
    sheet.put(loc, entry)
    return None


def _staff(sheet: Sheet) -> tuple[Row, ...]:
    staff, here = sheet.settings.staff, sheet.has("staff")
    rows = [
        Row(each.initials, each.role, here, partial(_person, sheet, n, each)) for n, each in enumerate(staff)
    ]
    return (*rows, Row("+ add a person", "", here, partial(_new_person, sheet)))


def _does(initials: str) -> Choice:
    return Choice(f"{initials} does", _numbered((each, each) for each in STAFF_ROLES))


def _person(sheet: Sheet, number: int, person: Person) -> Dialogue:
    loc = ("staff", number)
    initials = Words("Initials:", capitals=True, fault=sheet.fault_at(*loc, "initials"))
    return _change(sheet, loc, person.initials, {"initials": initials, "role": _does(person.initials)})


def _new_person(sheet: Sheet) -> Dialogue:
    loc = ("staff", len(sheet.settings.staff))
    initials = yield Words(
        "Initials, no names:",
        capitals=True,
        fault=lambda text: sheet.fault(loc, {"initials": text, "role": "cutting"}),
    )
    sheet.put(loc, {"initials": initials, "role": (yield _does(initials))})
    return None
