"""Areas of recipient zones from their measured shape, in cm²."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import combinations, pairwise
from typing import Annotated

from msgspec import Meta

from orroom.case.parts import Part

Centimetres = Annotated[float, Meta(gt=0, le=60)]
Coordinate = Annotated[float, Meta(ge=-60, le=60)]
Corner = tuple[Coordinate, Coordinate]


class Ellipse(Part, frozen=True, kw_only=True, tag_field="kind", tag="ellipse"):
    """An ellipse by its two full axes."""

    measures = ("length_cm", "width_cm")

    length_cm: Centimetres
    width_cm: Centimetres

    @property
    def area_cm2(self) -> float:
        """π · length · width / 4 (elementary geometry)."""
        return math.pi * self.length_cm * self.width_cm / 4


class Trapezoid(Part, frozen=True, kw_only=True, tag_field="kind", tag="trapezoid"):
    """A band with parallel front and back edges."""

    measures = ("front_cm", "back_cm", "depth_cm")

    front_cm: Centimetres
    back_cm: Centimetres
    depth_cm: Centimetres

    @property
    def area_cm2(self) -> float:
        """(front + back) / 2 · depth (elementary geometry)."""
        return (self.front_cm + self.back_cm) / 2 * self.depth_cm


class Triangle(Part, frozen=True, kw_only=True, tag_field="kind", tag="triangle"):
    """A triangle by base and height, as in a temporal recess."""

    measures = ("base_cm", "height_cm")

    base_cm: Centimetres
    height_cm: Centimetres

    @property
    def area_cm2(self) -> float:
        """Base · height / 2 (elementary geometry)."""
        return self.base_cm * self.height_cm / 2


class Outline(Part, frozen=True, kw_only=True, tag_field="kind", tag="outline"):
    """A traced outline: corner points in order, in cm, last one joined to the first."""

    measures = ("points_cm",)

    points_cm: Annotated[tuple[Corner, ...], Meta(min_length=3, max_length=400)]

    def __post_init__(self) -> None:
        super().__post_init__()
        if self.area_cm2 <= 0:
            raise ValueError("the outline encloses no area; give its corners in order around the zone")
        if _crosses_itself(self.points_cm):
            raise ValueError("the outline crosses itself; give its corners in order around the zone")

    @property
    def area_cm2(self) -> float:
        """Half the absolute sum of cross products of neighbouring corners (shoelace formula)."""
        following = (*self.points_cm[1:], self.points_cm[0])
        pairs = zip(self.points_cm, following, strict=True)
        return abs(math.fsum(x1 * y2 - x2 * y1 for (x1, y1), (x2, y2) in pairs)) / 2


def _crosses_itself(corners: Sequence[Corner]) -> bool:
    """Whether two edges of an outline cross, which would make its shoelace area wrong."""
    edges = list(pairwise((*corners, corners[0])))
    return any(_cross(*one, *other) for one, other in combinations(edges, 2))


def _cross(a: Corner, b: Corner, c: Corner, d: Corner) -> bool:
    """Whether a-b and c-d have each other's ends on different sides; edges that only touch do not cross."""
    return _turn(a, b, c) * _turn(a, b, d) < 0 and _turn(c, d, a) * _turn(c, d, b) < 0


def _turn(a: Corner, b: Corner, c: Corner) -> float:
    """Above 0 where the way a-b-c turns left, below 0 where it turns right, 0 where it is straight."""
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])


Shape = Ellipse | Trapezoid | Triangle | Outline
