"""Which fields a plan has in the form: pages, each a table of fields, in the file's order."""

from collections.abc import Callable, Iterator, Mapping
from typing import Final, Literal, NamedTuple, get_args

from orroom.case.plan import CareUntil, CombingSide, ReminderStart
from orroom.case.shapes import Shape
from orroom.case.terms import SIZE_KEYS, STAFF_ROLES, CareKind, Side, ZoneKind
from orroom.files.plan_rules import Raw
from orroom.files.plan_words import Loc

#: How a field's value is typed: words, a number, numbers or corners or keys with spaces between, or a choice.
Kind = Literal["text", "number", "numbers", "corners", "keys", "choice"]

#: What each shape is measured by; the names in the file.
MEASURES: Final[dict[str, tuple[str, ...]]] = {
    str(shape.__struct_config__.tag): shape.__struct_fields__ for shape in get_args(Shape)
}
#: What the only choice of a field is called that is ``true`` in the file.
YES: Final = "yes"
MOST_MEASURES: Final = max(map(len, MEASURES.values()))


#: The page that has of each zone what it needs, from other pages, in one row.
IN_SHORT: Final = "in short"
#: Where somebody might write who the patient is.
NO_NAME: Final = "Never the patient's name or record number."


class Field(NamedTuple):
    """A field: where its value is in the file, what it is called, how it is typed, its choices.

    ``capitals`` turns what is typed into capitals, ``long`` is text that needs room. ``beware`` says what
    does not belong there.
    """

    loc: Loc
    name: str
    kind: Kind = "text"
    choices: tuple[str, ...] = ()
    capitals: bool = False
    long: bool = False
    beware: str = ""

    @property
    def optional(self) -> bool:
        """Whether a choice may be left out."""
        where = ("care_until", "starts", "once", "combing_side", "after_earlier")
        return self.loc[0] == "zones" or self.loc[-1] in where


class Row(NamedTuple):
    """A row of a page: what stands at its left, its fields (``None``: nothing there), its place in a list."""

    label: str
    cells: tuple[Field | None, ...]
    entry: int | None = None


class Page(NamedTuple):
    """A page: its name, the list whose entries are its rows if it has one, its columns and rows."""

    name: str
    rows_of: str | None
    heads: Callable[[Raw], tuple[str, ...]]
    rows: Callable[[Raw], tuple[Row, ...]]


def entries(raw: Raw, name: str) -> Iterator[tuple[int, Raw]]:
    """The entries of a list that are tables, with their places; nothing else can be filled in."""
    found = raw.get(name)
    if isinstance(found, list):
        yield from ((place, entry) for place, entry in enumerate(found) if isinstance(entry, Mapping))


def table(row: Raw, *names: str) -> Raw:
    """A table inside a table, empty where there is none."""
    for name in names:
        found = row.get(name)
        row = found if isinstance(found, Mapping) else {}
    return row


def size_keys(raw: Raw) -> tuple[str, ...]:
    """The sizes of a plan, and those that a target or a mix names, in the order shown."""
    used = {str(size.get("key")) for _, size in entries(raw, "sizes")} | set(table(raw, "donor", "mix"))
    for _, zone in entries(raw, "zones"):
        used |= set(table(zone, "targets")) | set(table(zone, "density", "mix"))
    return tuple(size for size in SIZE_KEYS if size in used)


def zone_label(raw: Raw, place: int) -> str:
    """How a zone is called at the left of its row: its key, or its number."""
    return next((str(zone["key"]) for at, zone in entries(raw, "zones") if at == place and zone.get("key")),
                f"{place + 1}")  # fmt: skip


def zone_names(raw: Raw) -> dict[int, str]:
    """The label of each zone that has one, by its place."""
    return {place: str(zone["label"]) for place, zone in entries(raw, "zones") if zone.get("label")}


def _listed(name: str, *fields: Field) -> Callable[[Raw], tuple[Row, ...]]:
    """Rows of a list's entries, with these fields each."""

    def rows(raw: Raw) -> tuple[Row, ...]:
        return tuple(
            Row(f"{place + 1}", tuple(each._replace(loc=(name, place, *each.loc)) for each in fields), place)
            for place, _ in entries(raw, name)
        )

    return rows


def _single(*fields: Field) -> Callable[[Raw], tuple[Row, ...]]:
    return lambda raw: tuple(Row(each.name, (each,)) for each in fields)


def _areas(raw: Raw) -> tuple[Row, ...]:
    rows = []
    for place, zone in entries(raw, "zones"):
        loc: Loc = ("zones", place)
        measures = [
            Field(
                (*loc, "shape", name),
                name.removesuffix("_cm"),
                "corners" if name == "points_cm" else "number",
                long=name == "points_cm",
            )
            for name in MEASURES.get(str(table(zone, "shape").get("kind")), ())
        ]
        cells = (
            Field((*loc, "area_cm2"), "area cm²", "number"),
            Field((*loc, "shape", "kind"), "shape", "choice", tuple(MEASURES)),
            *measures,
            *[None] * (MOST_MEASURES - len(measures)),
        )
        rows.append(Row(zone_label(raw, place), cells, place))
    return tuple(rows)


def _targets(raw: Raw) -> tuple[Row, ...]:
    sizes = size_keys(raw)
    return tuple(
        Row(
            zone_label(raw, place),
            (
                *(
                    Field(("zones", place, "targets", size), f"grafts of size {size}", "number")
                    for size in sizes
                ),
                Field(("zones", place, "density", "grafts_per_cm2"), "grafts/cm²", "number"),
                *(
                    Field(("zones", place, "density", "mix", size), f"share of size {size}", "number")
                    for size in sizes
                ),
            ),
            place,
        )
        for place, _ in entries(raw, "zones")
    )


def _short(raw: Raw) -> tuple[Row, ...]:
    """What every zone needs in one row: its key, its area, grafts of each size."""
    return tuple(
        Row(
            f"{place + 1}",
            (
                Field(("zones", place, "key"), "zone key", capitals=True),
                Field(("zones", place, "area_cm2"), "area cm²", "number"),
                *(
                    Field(("zones", place, "targets", size), f"grafts of size {size}", "number")
                    for size in size_keys(raw)
                ),
                Field(("zones", place, "label"), "label"),
            ),
            place,
        )
        for place, _ in entries(raw, "zones")
    )


def _hairs(raw: Raw) -> tuple[Row, ...]:
    return tuple(
        Row(
            zone_label(raw, place),
            (
                Field(("zones", place, "existing_hairs_per_cm2"), "existing hairs/cm²", "number"),
                Field(("zones", place, "least_hairs_per_cm2"), "least new hairs/cm²", "number"),
                Field(("zones", place, "most_grafts_per_cm2"), "most grafts/cm²", "number"),
            ),
            place,
        )
        for place, _ in entries(raw, "zones")
    )


def _target_heads(raw: Raw) -> tuple[str, ...]:
    sizes = size_keys(raw)
    return (*sizes, "or /cm²", *(f"mix {size}" for size in sizes))


def _donor(raw: Raw) -> tuple[Row, ...]:
    donor: Loc = ("donor",)
    return _single(
        Field((*donor, "strip_length_cm"), "strip length, cm", "number"),
        Field((*donor, "strip_width_cm"), "strip width, cm", "number"),
        Field((*donor, "grafts_per_cm2"), "readings, grafts/cm²", "numbers"),
        *(Field((*donor, "mix", size), f"share of size {size}", "number") for size in size_keys(raw)),
        Field((*donor, "loss"), "share lost in cutting", "number"),
        Field((*donor, "after_earlier"), "measured after the earlier case", "choice", (YES,)),
    )(raw)


def _cautions(raw: Raw) -> tuple[Row, ...]:
    found = raw.get("cautions")
    return tuple(
        Row(f"{place + 1}", (Field(("cautions", place), "caution", long=True),), place)
        for place in range(len(found) if isinstance(found, list) else 0)
    )


def _heads(*names: str) -> Callable[[Raw], tuple[str, ...]]:
    return lambda raw: names


PAGES: Final[tuple[Page, ...]] = (
    Page(
        "case",
        None,
        _heads(""),
        _single(
            Field(("case",), "case code", capitals=True, beware=NO_NAME),
            Field(("title",), "title", long=True, beware=NO_NAME),
            Field(("earlier",), "earlier case", long=True),
            Field(("combing_side",), "combed from", "choice", get_args(CombingSide)),
            Field(("raise_share",), "raise zones by", "number"),
        ),
    ),
    Page(IN_SHORT, "zones", lambda raw: ("zone", "cm²", *size_keys(raw), "label"), _short),
    Page(
        "sizes",
        "sizes",
        _heads("size", "label", "hairs", "divided into", "loss"),
        _listed(
            "sizes",
            Field(("key",), "size", "choice", SIZE_KEYS),
            Field(("label",), "label"),
            Field(("hairs",), "hairs per graft", "number"),
            Field(("divided_into",), "may be divided into", "keys"),
            Field(("dividing_loss",), "share of hairs lost in dividing", "number"),
        ),
    ),
    Page(
        "zones",
        "zones",
        _heads(
            "zone", "label", "kind", "side", "order", "neighbours", "allowed", "arc", "not treated", "stick"
        ),
        _listed(
            "zones",
            Field(("key",), "zone key", capitals=True),
            Field(("label",), "label"),
            Field(("kind",), "kind", "choice", get_args(ZoneKind)),
            Field(("side",), "side", "choice", get_args(Side)),
            Field(("order",), "placing order", "number"),
            Field(("neighbours",), "neighbours", "keys", capitals=True),
            Field(("allowed",), "sizes allowed", "keys", capitals=True),
            Field(("upper_arc",), "upper arc of the vertex", "choice", (YES,)),
            Field(("not_treated",), "not treated", "choice", (YES,)),
            Field(("stick_and_place",), "stick and place", "choice", (YES,)),
        ),
    ),
    Page("areas", "zones", _heads("cm²", "or shape", "measures, cm", "", ""), _areas),
    Page("targets", "zones", _target_heads, _targets),
    Page("hairs", "zones", _heads("existing/cm²", "least new/cm²", "most grafts/cm²"), _hairs),
    Page(
        "harvests",
        "harvests",
        _heads("harvest", "label", "segments", "strip mm"),
        _listed(
            "harvests",
            Field(("key",), "harvest key", capitals=True),
            Field(("label",), "label"),
            Field(("segments",), "segments", "number"),
            Field(("strip_length_mm",), "strip length, mm", "number"),
        ),
    ),
    Page("donor", None, _heads(""), _donor),
    Page(
        "care",
        "care",
        _heads(
            *("key", "label", "kind", "every min", "grace"),
            *("low °C", "high °C", "outside", "starts", "at", "once"),
        ),
        _listed(
            "care",
            Field(("key",), "key of the care round"),
            Field(("label",), "label"),
            Field(("kind",), "kind", "choice", get_args(CareKind)),
            Field(("every_minutes",), "minutes between rounds", "number"),
            Field(("grace_minutes",), "minutes until overdue", "number"),
            Field(("low_c",), "lowest °C", "number"),
            Field(("high_c",), "highest °C", "number"),
            Field(("outside_minutes",), "after one outside, again in min", "number"),
            Field(("starts",), "reminder counts from", "choice", get_args(ReminderStart)),
            Field(("at",), "reminder at, such as 09:30"),
            Field(("once",), "reminder once only", "choice", (YES,)),
        ),
    ),
    Page(
        "limits",
        None,
        _heads(""),
        _single(
            Field(("limits", "with_placers_seconds"), "with the placers, s", "number"),
            Field(("limits", "with_placers_grace_seconds"), "overdue after another, s", "number"),
            Field(("limits", "dense_grafts_per_cm2"), "dense above, grafts/cm²", "number"),
            Field(("limits", "day_hours"), "long day above, hours", "number"),
            Field(("limits", "slow_tail", "share"), "slow tail: last share", "number"),
            Field(("limits", "slow_tail", "pace"), "slow tail: share of pace", "number"),
            Field(("limits", "out_of_body_hours"), "out of the body, hours", "number"),
            Field(("limits", "care_until"), "care due until", "choice", get_args(CareUntil)),
            Field(("limits", "least_site_mm"), "least between sites, mm", "number"),
        ),
    ),
    Page(
        "staff",
        "staff",
        _heads("initials", "role"),
        _listed(
            "staff",
            Field(("initials",), "initials", capitals=True, beware="Never a whole name."),
            Field(("role",), "role", "choice", STAFF_ROLES),
        ),
    ),
    Page("cautions", "cautions", _heads("caution"), _cautions),
)
