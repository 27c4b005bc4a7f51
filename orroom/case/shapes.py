"""Areas of recipient zones from their measured shape, in cm²."""

from __future__ import annotations

import math
from collections.abc import Sequence
from fractions import Fraction
from itertools import combinations, pairwise
from typing import Annotated

from msgspec import Meta, Struct

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
            raise ValueError("the outline encloses no area; list its corners in order around the zone")

    @property
    def area_cm2(self) -> float:
        """Half the absolute sum of cross products of neighbouring corners (shoelace formula).

        The area enclosed only where the outline meets itself nowhere (``where_it_meets_itself``).
        """
        following = (*self.points_cm[1:], self.points_cm[0])
        pairs = zip(self.points_cm, following, strict=True)
        return abs(math.fsum(x1 * y2 - x2 * y1 for (x1, y1), (x2, y2) in pairs)) / 2


class _Side(Struct, frozen=True):
    """A straight piece of an outline: from one corner, numbered from 1 on, to the next."""

    first: int
    a: Corner
    second: int
    b: Corner

    def __str__(self) -> str:
        return f"the line from corner {self.first} to corner {self.second}"

    def near(self, other: _Side) -> bool:
        """Whether the two may have a point in common, by the boxes around them."""
        (ax, ay), (bx, by) = self.a, self.b
        (cx, cy), (dx, dy) = other.a, other.b
        return not (
            (ax < cx and ax < dx and bx < cx and bx < dx)
            or (ax > cx and ax > dx and bx > cx and bx > dx)
            or (ay < cy and ay < dy and by < cy and by < dy)
            or (ay > cy and ay > dy and by > cy and by > dy)
        )


def where_it_meets_itself(points: Sequence[Corner]) -> str | None:
    """What is wrong with an outline and at which corners, ``None`` if it is simple: it meets itself nowhere.

    The same corner given twice in a row, or the first once more at the end, is one corner. Decided exactly,
    without rounding.
    """
    following = (*points[1:], *points[:1])
    corners = [(number, at) for number, at in enumerate(points, 1) if at != following[number - 1]]
    sides = [_Side(*one, *other) for one, other in pairwise((*corners, *corners[:1]))]
    for before, after in zip((*sides[-1:], *sides), sides, strict=False):
        if _turn(before.a, before.b, after.b) == 0 and not _between(before.a, before.b, after.b):
            return f"goes back over itself at corner {after.first}"
    first: dict[Corner, int] = {}
    for number, at in corners:
        if first.setdefault(at, number) != number:
            return f"returns to corner {first[at]} at corner {number}"
    for one, other in combinations(sides, 2):
        neighbours = other.first == one.second or other.second == one.first
        if not neighbours and one.near(other) and (where := _meeting(one, other)):
            return where
    return None


def _meeting(one: _Side, other: _Side) -> str | None:
    """How two sides that are not neighbours meet."""
    turns = _turn(one.a, one.b, other.a), _turn(one.a, one.b, other.b)
    back = _turn(other.a, other.b, one.a), _turn(other.a, other.b, one.b)
    if turns[0] * turns[1] < 0 and back[0] * back[1] < 0:
        return f"crosses itself: {one} and {other}"
    for side, number, corner, turn in (
        (one, other.first, other.a, turns[0]),
        (one, other.second, other.b, turns[1]),
        (other, one.first, one.a, back[0]),
        (other, one.second, one.b, back[1]),
    ):
        if turn == 0 and _between(side.a, corner, side.b):
            return f"touches itself: corner {number} lies on {side}"
    return None


def _between(a: Corner, b: Corner, c: Corner) -> bool:
    """Whether b, which lies on a straight line with a and c, lies between them or at one of them."""
    return min(a[0], c[0]) <= b[0] <= max(a[0], c[0]) and min(a[1], c[1]) <= b[1] <= max(a[1], c[1])


def _turn(a: Corner, b: Corner, c: Corner) -> Fraction:
    """Above 0 where the way a-b-c turns left, below 0 where it turns right, 0 where it is straight."""
    (ax, ay), (bx, by), (cx, cy) = (map(Fraction, corner) for corner in (a, b, c))
    return (bx - ax) * (cy - ay) - (by - ay) * (cx - ax)


Shape = Ellipse | Trapezoid | Triangle | Outline
