"""What was promised before the first incision: sizes, zones, targets, donor, care rounds, limits, staff."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cached_property
from typing import Annotated, Literal, Self

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, model_validator

from orroom.case.shapes import Shape
from orroom.case.terms import (
    CARE_KEY,
    CASE_CODE,
    INITIALS,
    LOT_KEY,
    MAX_LABEL,
    MAX_TEXT,
    ZONE_KEY,
    CareKind,
    Role,
    Side,
    ZoneKind,
    clean,
    hidden_character,
)


def _plain(text: str) -> str:
    hidden = hidden_character(text)
    if hidden:
        raise ValueError(f"holds the invisible character {hidden}; retype it without that character")
    if text != text.strip():
        raise ValueError("begins or ends with a space; remove it")
    return clean(text)


def _label(text: str) -> str:
    if "[" in text or "]" in text:
        raise ValueError("holds a square bracket; write it without [ and ]")
    return _plain(text)


Label = Annotated[str, Field(min_length=1, max_length=MAX_LABEL), AfterValidator(_label)]
Text = Annotated[str, Field(min_length=1, max_length=MAX_TEXT), AfterValidator(_plain)]
SizeKey = Literal["1", "2", "3", "4", "M"]
Initials = Annotated[str, Field(pattern=INITIALS)]
Grafts = Annotated[int, Field(ge=0, le=10_000, strict=True)]
Share = Annotated[float, Field(ge=0, le=1, allow_inf_nan=False)]
PerCm2 = Annotated[float, Field(gt=0, le=400, allow_inf_nan=False)]
MAX_STRIP_MM = 400


class _Part(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class Size(_Part):
    """A graft size. For ``1`` to ``4`` the hairs are the key; for ``M`` they are the expected mean."""

    key: SizeKey
    label: Label
    hairs: float = Field(gt=0, le=12, allow_inf_nan=False, description="hairs per graft; a mean for M")


class DensityTarget(_Part):
    """A zone's target as a density and a mix of sizes, instead of counts."""

    grafts_per_cm2: PerCm2
    mix: dict[SizeKey, Share] = Field(min_length=1, description="share of grafts by size, summing to 1")


class Zone(_Part):
    """A recipient zone, its area and what the plan promises it."""

    key: str = Field(pattern=ZONE_KEY)
    label: Label
    kind: ZoneKind | None = Field(default=None, description="what it is; advice that depends on it needs it")
    area_cm2: float | None = Field(default=None, gt=0, le=400, allow_inf_nan=False)
    shape: Shape | None = None
    order: int | None = Field(default=None, ge=1, le=99, description="placing order, 1 is placed first")
    side: Side | None = None
    neighbours: tuple[str, ...] = ()
    targets: dict[SizeKey, Grafts] | None = Field(default=None, description="grafts planned by size")
    density: DensityTarget | None = None
    allowed: tuple[SizeKey, ...] | None = Field(default=None, description="sizes allowed here; all if absent")

    @cached_property
    def measured_cm2(self) -> float:
        """The zone's area in cm², given or from its shape."""
        if self.area_cm2 is not None:
            return self.area_cm2
        if self.shape is None:  # plan_problems says so before a plan is built
            raise ValueError(f"zone {self.key} has neither area_cm2 nor shape")
        return self.shape.area_cm2

    @cached_property
    def planned(self) -> Mapping[str, int]:
        """Grafts planned by size: the counts given, or density × area × mix."""
        if self.density is None:
            return dict((self.targets or {}).items())
        total = round(self.density.grafts_per_cm2 * self.measured_cm2)
        return _shared_out(total, dict(self.density.mix.items()))


def _shared_out(total: int, mix: Mapping[str, float]) -> dict[str, int]:
    """``total`` whole grafts over ``mix`` by largest remainder, so that the parts add up to the total."""
    whole = sum(mix.values())
    exact = {size: total * share / whole for size, share in mix.items()}
    counts = {size: int(value) for size, value in exact.items()}
    by_remainder = sorted(exact, key=lambda size: (counts[size] - exact[size], size))
    for size in by_remainder[: total - sum(counts.values())]:
        counts[size] += 1
    return counts


class Lot(_Part):
    """Grafts whose time out of the body starts together: a strip, or a batch of punches."""

    key: str = Field(pattern=LOT_KEY)
    label: Label
    segments: int | None = Field(default=None, ge=1, le=200, description="segments the strip is cut into")
    strip_length_mm: float | None = Field(
        default=None, gt=0, le=MAX_STRIP_MM, allow_inf_nan=False, description="then segments are measured"
    )


class Donor(_Part):
    """What the donor area is expected to give."""

    strip_length_cm: float = Field(gt=0, le=40, allow_inf_nan=False)
    strip_width_cm: float = Field(gt=0, le=5, allow_inf_nan=False)
    grafts_per_cm2: tuple[PerCm2, ...] = Field(min_length=1, description="density readings along the strip")
    mix: dict[SizeKey, Share] = Field(min_length=1, description="expected share of grafts by size")
    loss: Share = Field(default=0.0, description="share expected to be lost in cutting")


class CareRound(_Part):
    """Care that comes round: wetting, renewing solution, reading the temperature."""

    key: str = Field(pattern=CARE_KEY)
    label: Label
    kind: CareKind
    every_minutes: float = Field(ge=1, le=480, allow_inf_nan=False)
    grace_minutes: float = Field(default=2, ge=0, le=120, allow_inf_nan=False, description="then overdue")
    low_c: float | None = Field(default=None, ge=-5, le=45, allow_inf_nan=False)
    high_c: float | None = Field(default=None, ge=-5, le=45, allow_inf_nan=False)


class SlowTail(_Part):
    """How the last grafts of a case are placed, in the forecast of the finish.

    Placing drops sharply near the end (Tykocinski & Shapiro, in Hair Transplantation, 5th ed. 2010); they
    give no figure, so none is assumed unless the clinic's own is set.
    """

    share: float = Field(gt=0, lt=1, allow_inf_nan=False, description="this last share of the grafts")
    pace: float = Field(gt=0, le=1, allow_inf_nan=False, description="goes at so much of the pace before")


class Limits(_Part):
    """Limits the surgeon sets for this case."""

    # 180 s of drying on a glove did major damage (Dermatol Surg 2000;26(1):25-31): prompt before that.
    bench_seconds: int = Field(default=150, ge=10, le=3600, strict=True, description="then a prompt is due")
    bench_grace_seconds: int = Field(default=30, ge=0, le=3600, strict=True, description="then overdue")
    # Dense packing: above 30 (Nakatsui, Wong, Groot, Dermatol Surg 2008;34(8):1016-1025); Wong 2010: 28.
    dense_grafts_per_cm2: PerCm2 = Field(default=30, description="denser than this is told as advice")
    # Common practice, no source.
    day_hours: float = Field(
        default=8, gt=0, le=24, allow_inf_nan=False, description="a team that needs longer is told as advice"
    )
    slow_tail: SlowTail | None = None


class Person(_Part):
    """Somebody of the team, by initials only."""

    initials: Initials
    role: Literal[Role, "record", "surgeon"]


class Plan(_Part):
    """The whole plan of a case. ``plan_problems`` finds what a single field cannot show."""

    format: Literal[1] = 1
    case: str = Field(pattern=CASE_CODE, description="a pseudonym: no names, no record numbers")
    title: Label | None = None
    sizes: tuple[Size, ...] = Field(min_length=1, max_length=5)
    zones: tuple[Zone, ...] = Field(min_length=1, max_length=40)
    lots: tuple[Lot, ...] = Field(default=(Lot(key="A", label="lot A"),), min_length=1, max_length=20)
    donor: Donor | None = None
    care: tuple[CareRound, ...] = Field(default=(), max_length=10)
    limits: Limits = Limits()
    staff: tuple[Person, ...] = Field(default=(), max_length=40)
    cautions: tuple[Text, ...] = Field(default=(), max_length=10)

    @model_validator(mode="after")
    def _in_placing_order(self) -> Self:
        order = {zone.key: (zone.order or place) for place, zone in enumerate(self.zones, 1)}
        object.__setattr__(self, "zones", tuple(sorted(self.zones, key=lambda zone: order[zone.key])))
        return self

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
    def lot_by_key(self) -> Mapping[str, Lot]:
        """The plan's lots by their key."""
        return {lot.key: lot for lot in self.lots}

    def planned(self, size: str | None = None, zone: str | None = None) -> int:
        """Grafts planned, in all or for one size, one zone, or one size of one zone."""
        zones = self.zones if zone is None else (self.zone_by_key[zone],)
        if size is None:
            return sum(sum(each.planned.values()) for each in zones)
        return sum(each.planned.get(size, 0) for each in zones)
