"""What was promised before the first incision: sizes, zones, targets, donor, care rounds, limits, staff."""

from collections.abc import Mapping
from functools import cached_property
from typing import Annotated, Literal

from msgspec import Meta
from msgspec.structs import force_setattr, replace

from orroom.case.earlier import KeptBefore, Session, kept_by_key
from orroom.case.parts import Label, Part, Text
from orroom.case.shapes import Shape
from orroom.case.terms import (
    CARE_KEY,
    CASE_CODE,
    CLOCK_TIME,
    DIVISION,
    HARVEST_KEY,
    INITIALS,
    ZONE_KEY,
    CareKind,
    Side,
    SizeKey,
    StaffRole,
    ZoneKind,
)

Initials = Annotated[str, Meta(pattern=INITIALS)]
Grafts = Annotated[int, Meta(ge=0, le=10_000)]
Share = Annotated[float, Meta(ge=0, le=1)]
PerCm2 = Annotated[float, Meta(gt=0, le=400)]
#: The side that hair is combed from.
CombingSide = Literal["left", "right"]
#: Care falls due until the last graft is placed, if no zone is owed one; or always to the end of the work.
CareUntil = Literal["last graft", "end of work"]
#: From when a reminder's minutes count.
ReminderStart = Literal["opening", "first harvest"]
MAX_STRIP_MM = 400


class Size(Part, frozen=True, kw_only=True):
    """A graft size. For ``1`` to ``4`` the hairs are the key; for ``M`` they are the expected mean."""

    measures = ("hairs", "dividing_loss")

    key: SizeKey
    label: Label
    hairs: Annotated[float, Meta(gt=0, le=12, description="hairs per graft; a mean for M")]
    divided_into: (
        Annotated[
            tuple[Annotated[str, Meta(pattern=DIVISION)], ...],
            Meta(min_length=1, max_length=6, description="how a re-plan may divide them; not if left out"),
        ]
        | None
    ) = None
    dividing_loss: (
        Annotated[Share, Meta(description="share of hairs expected to be lost in dividing")] | None
    ) = None


class DensityTarget(Part, frozen=True, kw_only=True):
    """A zone's target as a density and a mix of sizes, instead of counts."""

    measures = ("grafts_per_cm2", "mix")

    grafts_per_cm2: PerCm2
    mix: Annotated[
        dict[SizeKey, Share], Meta(min_length=1, description="share of grafts by size, adding up to 1")
    ]


class Zone(Part, frozen=True, kw_only=True):
    """A recipient zone, its area and what the plan promises it."""

    measures = ("area_cm2", "existing_hairs_per_cm2", "least_hairs_per_cm2", "most_grafts_per_cm2")

    key: Annotated[str, Meta(pattern=ZONE_KEY)]
    label: Label
    kind: Annotated[ZoneKind, Meta(description="what it is; some remarks need it")] | None = None
    area_cm2: Annotated[float, Meta(gt=0, le=400)] | None = None
    shape: Shape | None = None
    order: Annotated[int, Meta(ge=1, le=99, description="placing order; 1 is placed first")] | None = None
    side: Side | None = None
    neighbours: tuple[str, ...] = ()
    targets: Annotated[dict[SizeKey, Grafts], Meta(description="grafts planned by size")] | None = None
    density: DensityTarget | None = None
    allowed: Annotated[tuple[SizeKey, ...], Meta(description="sizes allowed; all if left out")] | None = None
    not_treated: Annotated[bool, Meta(description="true: no grafts are meant to go here")] | None = None
    stick_and_place: (
        Annotated[bool, Meta(description="true: placing makes the sites; none are entered")] | None
    ) = None
    existing_hairs_per_cm2: (
        Annotated[float, Meta(ge=0, le=400, description="hairs that grow here already")] | None
    ) = None
    upper_arc: (
        Annotated[bool, Meta(description="true: its hair falls over the rest of the vertex")] | None
    ) = None
    least_hairs_per_cm2: (
        Annotated[float, Meta(gt=0, le=1600, description="fewest new hairs, also in a re-plan")] | None
    ) = None
    most_grafts_per_cm2: Annotated[PerCm2, Meta(description="most grafts, also in a re-plan")] | None = None

    @cached_property
    def measured_cm2(self) -> float:
        """The zone's area in cm², given or from its shape."""
        if self.area_cm2 is not None:
            return self.area_cm2
        if self.shape is None:  # every plan file gives one of the two
            raise ValueError(f"zone {self.key} has neither area_cm2 nor shape")
        return self.shape.area_cm2

    def takes(self, size: str) -> bool:
        """Whether grafts of a size are meant to go here."""
        return not self.not_treated and (self.allowed is None or size in self.allowed)

    @cached_property
    def planned(self) -> Mapping[str, int]:
        """Grafts planned by size: the counts given, or density × area × mix."""
        if self.density is None:
            return dict((self.targets or {}).items())
        total = round(self.density.grafts_per_cm2 * self.measured_cm2)
        return shared_out(total, dict(self.density.mix.items()))


def shared_out(total: int, mix: Mapping[str, float]) -> dict[str, int]:
    """``total`` whole grafts over ``mix`` by largest remainder, so that the parts add up to the total."""
    whole = sum(mix.values())
    exact = {size: total * share / whole for size, share in mix.items()}
    counts = {size: int(value) for size, value in exact.items()}
    by_remainder = sorted(exact, key=lambda size: (counts[size] - exact[size], size))
    for size in by_remainder[: total - sum(counts.values())]:
        counts[size] += 1
    return counts


def wrong_with_pieces(size: str, into: tuple[str, ...], hairs: Mapping[str, float]) -> str | None:
    """What is wrong with these pieces of a graft; ``None`` if nothing is. ``hairs`` has the plan's sizes."""
    for each in (size, *into):
        if each not in hairs:
            return f"size {each} is not one of the plan's sizes"
    if into == (size,):
        return "makes no smaller grafts"
    if sum(hairs[piece] for piece in into) > hairs[size]:
        return f"is more than the {hairs[size]:g} hairs of a graft of size {size}"
    return None


class Harvest(Part, frozen=True, kw_only=True):
    """Grafts whose time out of the body starts together: a strip, or a batch of punches."""

    measures = ("strip_length_mm",)

    key: Annotated[str, Meta(pattern=HARVEST_KEY)]
    label: Label
    segments: Annotated[int, Meta(ge=1, le=200, description="segments the strip is cut into")] | None = None
    strip_length_mm: (
        Annotated[float, Meta(gt=0, le=MAX_STRIP_MM, description="if given, segments are measured")] | None
    ) = None


class Donor(Part, frozen=True, kw_only=True):
    """What the donor area is expected to give."""

    measures = ("strip_length_cm", "strip_width_cm", "grafts_per_cm2", "mix", "loss")

    strip_length_cm: Annotated[float, Meta(gt=0, le=40)]
    strip_width_cm: Annotated[float, Meta(gt=0, le=5)]
    grafts_per_cm2: Annotated[
        tuple[PerCm2, ...], Meta(min_length=1, description="density readings along the strip")
    ]
    mix: Annotated[dict[SizeKey, Share], Meta(min_length=1, description="expected share of grafts by size")]
    loss: Annotated[Share, Meta(description="share expected to be lost in cutting")] = 0.0
    after_earlier: (
        Annotated[bool, Meta(description="true: of what earlier cases left; nothing is taken off for them")]
        | None
    ) = None


class CareRound(Part, frozen=True, kw_only=True):
    """Care at intervals: wetting, changing the solution, reading the temperature, a reminder of the clinic's.

    A reminder alone may begin elsewhere than at the first harvest, and may come once. Only one that comes
    once at a time of day needs no ``every_minutes``; of any other that comes once it is the time until then.
    """

    measures = ("every_minutes", "grace_minutes", "low_c", "high_c", "outside_minutes")

    key: Annotated[str, Meta(pattern=CARE_KEY)]
    label: Label
    kind: CareKind
    every_minutes: (
        Annotated[float, Meta(ge=1, le=480, description="left out only by a reminder once at a time")] | None
    ) = None
    grace_minutes: Annotated[float, Meta(ge=0, le=120, description="from due to overdue")] = 2
    low_c: Annotated[float, Meta(ge=-5, le=45)] | None = None
    high_c: Annotated[float, Meta(ge=-5, le=45)] | None = None
    outside_minutes: (
        Annotated[
            float, Meta(ge=1, le=480, description="time to the next reading, after one outside the band")
        ]
        | None
    ) = None
    starts: (
        Annotated[
            ReminderStart, Meta(description="what a reminder counts from; the first harvest if left out")
        ]
        | None
    ) = None
    at: (
        Annotated[str, Meta(pattern=CLOCK_TIME, description="time of day of a reminder's first, as 09:30")]
        | None
    ) = None
    once: Annotated[bool, Meta(description="a reminder that is gone after it is answered")] | None = None


class SlowTail(Part, frozen=True, kw_only=True):
    """How the last grafts of a case are placed, in the forecast of the finish.

    Placing drops sharply near the end (Tykocinski & Shapiro, in Hair Transplantation, 5th ed. 2010); they
    give no figure, so none is assumed unless the clinic's own is set.
    """

    measures = ("share", "pace")

    share: Annotated[float, Meta(gt=0, lt=1, description="the last share of the grafts")]
    pace: Annotated[float, Meta(gt=0, le=1, description="their pace, as a share of the pace before")]


class Limits(Part, frozen=True, kw_only=True):
    """Limits the surgeon sets for this case."""

    measures = ("dense_grafts_per_cm2", "day_hours", "out_of_body_hours", "least_site_mm")

    # 180 s of drying on a glove did major damage (Dermatol Surg 2000;26(1):25-31): prompt before that.
    with_placers_seconds: Annotated[
        int, Meta(ge=10, le=3600, description="with the placers, until a prompt is due")
    ] = 150
    with_placers_grace_seconds: Annotated[int, Meta(ge=0, le=3600, description="from due to overdue")] = 30
    # Dense packing: above 30 (Nakatsui, Wong, Groot, Dermatol Surg 2008;34(8):1016-1025); Wong 2010: 28.
    dense_grafts_per_cm2: Annotated[PerCm2, Meta(description="a denser zone gets a remark")] = 30
    # Common practice, no source.
    day_hours: Annotated[float, Meta(gt=0, le=24, description="a longer day gets a remark")] = 8
    slow_tail: SlowTail | None = None
    out_of_body_hours: (
        Annotated[
            float,
            Meta(gt=0, le=24, description="longer out of the body is reported; no limit if left out"),
        ]
        | None
    ) = None
    care_until: (
        Annotated[CareUntil, Meta(description="until when care falls due; the last graft if left out")] | None
    ) = None
    least_site_mm: (
        Annotated[
            float, Meta(ge=0.3, le=5, description="least distance of a site from the next hair or site")
        ]
        | None
    ) = None


class Person(Part, frozen=True, kw_only=True):
    """Somebody of the team, by initials only."""

    initials: Initials
    role: StaffRole


class Plan(Part, frozen=True, kw_only=True):
    """The whole plan of a case. ``files/plan_rules.py`` has what a single field cannot show."""

    format: Literal[1] = 1
    measures = ("raise_share",)

    case: Annotated[str, Meta(pattern=CASE_CODE, description="a pseudonym: no names, no record numbers")]
    title: Label | None = None
    earlier: (
        Annotated[Text, Meta(description="code or case file of the patient's case before this one")] | None
    ) = None
    combing_side: Annotated[CombingSide, Meta(description="the side hair is combed from")] | None = None
    raise_share: (
        Annotated[Share, Meta(description="a re-plan may raise zones by this share with grafts to spare")]
        | None
    ) = None
    sizes: Annotated[tuple[Size, ...], Meta(min_length=1, max_length=5)]
    zones: Annotated[tuple[Zone, ...], Meta(min_length=1, max_length=40)]
    harvests: Annotated[tuple[Harvest, ...], Meta(min_length=1, max_length=20)] = (
        Harvest(key="A", label="harvest A"),
    )
    donor: Donor | None = None
    care: Annotated[tuple[CareRound, ...], Meta(max_length=10)] = ()
    limits: Limits = Limits()
    staff: Annotated[tuple[Person, ...], Meta(max_length=40)] = ()
    cautions: Annotated[tuple[Text, ...], Meta(max_length=10)] = ()
    #: What ``earlier`` names and those before it, oldest first; taken from their records, never from a file.
    sessions: tuple[Session, ...] | None = None

    def __post_init__(self) -> None:
        """Zones are in placing order."""
        super().__post_init__()
        order = {zone.key: (zone.order or place) for place, zone in enumerate(self.zones, 1)}
        force_setattr(self, "zones", tuple(sorted(self.zones, key=lambda zone: order[zone.key])))

    @cached_property
    def size_by_key(self) -> Mapping[str, Size]:
        """The plan's sizes by their key, in the order shown."""
        return {size.key: size for size in self.sizes}

    @cached_property
    def zone_by_key(self) -> Mapping[str, Zone]:
        """The plan's zones by their key, in placing order."""
        return {zone.key: zone for zone in self.zones}

    @cached_property
    def care_by_key(self) -> Mapping[str, CareRound]:
        """The plan's care rounds by their key."""
        return {care.key: care for care in self.care}

    @cached_property
    def harvest_by_key(self) -> Mapping[str, Harvest]:
        """The plan's harvests by their key; behind them those of grafts kept for this case."""
        kept = {each.key: Harvest(key=each.key, label=each.label) for each in self.kept.values()}
        return {harvest.key: harvest for harvest in self.harvests} | kept

    @cached_property
    def kept(self) -> Mapping[str, KeptBefore]:
        """Grafts kept for this case by the one before it, by the key of their harvest here."""
        return kept_by_key(self.sessions)

    def with_stick_and_place(self, zone: str, *, on: bool) -> "Plan":
        """The plan with placing making the sites of this zone, or not."""
        zones = (replace(each, stick_and_place=on) if each.key == zone else each for each in self.zones)
        return replace(self, zones=tuple(zones))

    def planned(self, size: str | None = None, zone: str | None = None) -> int:
        """Grafts planned, in all or for one size, one zone, or one size of one zone."""
        zones = self.zones if zone is None else (self.zone_by_key[zone],)
        if size is None:
            return sum(sum(each.planned.values()) for each in zones)
        return sum(each.planned.get(size, 0) for each in zones)
