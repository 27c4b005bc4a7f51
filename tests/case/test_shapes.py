"""Areas of zones from their shapes, against geometry."""

from __future__ import annotations

import math

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from msgspec import convert, to_builtins

from orroom.case.plan import Zone
from orroom.case.shapes import Ellipse, Outline, Shape, Trapezoid, Triangle, where_it_meets_itself
from orroom.files.checker import checked

lengths = st.floats(0.1, 50)
corners = st.tuples(st.integers(-20, 20), st.integers(-20, 20))


def outline(*points: tuple[float, float]) -> Outline:
    return Outline(points_cm=points)


def zone(**fields: object) -> Zone:
    made, _ = checked({"key": "FC", "label": "frontal core", **fields}, Zone)
    assert made is not None
    return made


def test_ellipse_of_8_by_6_cm():
    # Geometry: π · 8 · 6 / 4 = 37.70 cm².
    assert Ellipse(length_cm=8, width_cm=6).area_cm2 == pytest.approx(37.70, abs=0.005)


def test_triangle_of_5_by_4_cm():
    # Geometry: 5 · 4 / 2 = 10.0 cm².
    assert Triangle(base_cm=5, height_cm=4).area_cm2 == 10.0


def test_trapezoid_lies_between_its_two_rectangles():
    # Geometry: (6 + 8) / 2 · 2.5 = 17.5 cm².
    assert Trapezoid(front_cm=6, back_cm=8, depth_cm=2.5).area_cm2 == 17.5


def test_outline_of_a_known_pentagon():
    # Arithmetic: corners (3,4) (5,11) (12,8) (9,5) (5,6) enclose 30 by the shoelace formula; from memory, the
    # formula's usual textbook example. Worked: cross products 13, -92, -12, 29, 2 add up to -60.
    assert outline((3, 4), (5, 11), (12, 8), (9, 5), (5, 6)).area_cm2 == pytest.approx(30)


@given(width=lengths, depth=lengths)
@settings(max_examples=30)
def test_outline_of_a_rectangle_whichever_way_round(width: float, depth: float):
    # Geometry: width × depth.
    rectangle = [(0.0, 0.0), (width, 0.0), (width, depth), (0.0, depth)]
    assert outline(*rectangle).area_cm2 == pytest.approx(width * depth)
    assert outline(*reversed(rectangle)).area_cm2 == pytest.approx(width * depth)


def test_outline_of_many_corners_comes_near_the_ellipse():
    # Geometry: a regular polygon of n corners in the ellipse has n/2 · sin(2π/n) · a · b of its area.
    turns = [2 * math.pi * step / 200 for step in range(200)]
    traced = outline(*((4 * math.cos(turn), 3 * math.sin(turn)) for turn in turns))
    assert traced.area_cm2 == pytest.approx(100 * math.sin(2 * math.pi / 200) * 12)


def test_outline_that_repeats_its_first_corner_at_the_end():
    # Arithmetic: a corner given twice adds no area.
    assert outline((0, 0), (2, 0), (2, 2), (0, 0)).area_cm2 == 2.0


@given(b=corners, c=corners, move=corners)
@settings(max_examples=30)
def test_outline_of_three_corners_anywhere(b: tuple[int, int], c: tuple[int, int], move: tuple[int, int]):
    # Geometry: half the determinant of two sides, wherever the triangle lies.
    determinant = b[0] * c[1] - b[1] * c[0]
    assume(determinant)
    moved = [(x + move[0], y + move[1]) for x, y in ((0, 0), b, c)]
    assert outline(*moved).area_cm2 == abs(determinant) / 2


def test_outline_without_area_is_refused():
    with pytest.raises(ValueError, match="encloses no area"):
        outline((0, 0), (1, 1), (2, 2))


#: Outlines that are refused, and what is said of each.
MEETING = {
    "two corners changed over": (
        [(0, 0), (4, 3), (4, 0), (0, 1)],
        "crosses itself: the line from corner 1 to corner 2 and the line from corner 3 to corner 4",
    ),
    "a five-pointed star drawn in one stroke": (
        [(0, 2), (4, 2), (1, 0), (2, 4), (3, 0)],
        "crosses itself: the line from corner 1 to corner 2 and the line from corner 3 to corner 4",
    ),
    "a square traced twice round": (
        [(0, 0), (4, 0), (4, 4), (0, 4)] * 2,
        "returns to corner 1 at corner 5",
    ),
    "a spike": ([(0, 0), (4, 0), (4, 4), (6, 6), (4, 4), (0, 4)], "goes back over itself at corner 4"),
    "a spike along a side": ([(0, 0), (4, 0), (2, 0), (4, 4)], "goes back over itself at corner 2"),
    "a corner on another side": (
        [(0, 0), (4, 0), (4, 4), (2, 0), (0, 4)],
        "touches itself: corner 4 lies on the line from corner 1 to corner 2",
    ),
    "two zones in one": (
        [(0, 0), (2, 2), (0, 4), (4, 4), (2, 2), (4, 0)],
        "returns to corner 2 at corner 5",
    ),
}


@pytest.mark.parametrize("name", MEETING)
def test_outline_that_meets_itself_is_refused_at_the_corner_where_it_does(name: str):
    from shapely import Polygon

    points, wrong = MEETING[name]
    assert where_it_meets_itself(points) == wrong
    assert not Polygon(points).is_valid  # Reference: shapely.


def test_outline_whose_corners_meet_on_a_straight_side_or_twice_in_a_row_is_sound():
    assert where_it_meets_itself([(0, 0), (2, 0), (4, 0), (4, 4), (4, 4), (0, 4), (0, 0)]) is None


#: Whole corners in a small square: many outlines touch, overlap and go back on themselves.
crowded = st.lists(st.tuples(st.integers(0, 4), st.integers(0, 4)), min_size=3, max_size=9)
#: Corners in hundredths, as measured: few outlines touch, many cross.
measured = st.lists(st.tuples(*[st.floats(-20, 20).map(lambda at: round(at, 2))] * 2), min_size=3, max_size=8)


@st.composite
def traced(draw: st.DrawFn) -> list[tuple[float, float]]:
    """A traced outline, now and then spoilt: round twice, a corner given again, a way gone back."""
    points = draw(st.one_of(crowded, measured))
    at = draw(st.integers(0, len(points) - 1))
    match draw(st.sampled_from(("sound", "twice", "again", "back"))):
        case "twice":
            return points * 2
        case "again":
            return [*points, points[at]]
        case "back":
            return [*points[: at + 1], *points[max(0, at - 2) : at][::-1], *points[at + 1 :]]
    return points


@given(traced())
@settings(max_examples=600, deadline=None)
def test_outlines_are_refused_where_a_geometry_library_finds_them_unsound(points: list[tuple[float, float]]):
    """Reference: shapely (GEOS), ``is_valid`` of the polygon, and its area where that is so."""
    from shapely import Polygon

    polygon = Polygon(points)
    try:
        shape = Outline(points_cm=tuple(points))
    except ValueError:
        assert polygon.area == pytest.approx(0, abs=1e-12)
        return
    if where_it_meets_itself(points) is not None:
        assert not polygon.is_valid
    else:
        assert polygon.is_valid
        assert shape.area_cm2 == pytest.approx(polygon.area, rel=1e-9)


@given(corner=st.integers(3, 60), turned=st.floats(0, 6), wide=st.floats(0.5, 10))
@settings(max_examples=60)
def test_an_outline_traced_smoothly_once_round_is_sound_and_twice_round_is_not(
    corner: int, turned: float, wide: float
):
    turns = [turned + 2 * math.pi * step / corner for step in range(corner)]
    once = [(wide * math.cos(turn), wide * math.sin(turn)) for turn in turns]
    assert where_it_meets_itself(once) is None
    assert where_it_meets_itself(once * 2) == f"returns to corner 1 at corner {corner + 1}"


def test_an_outline_traced_twice_that_is_in_a_record_can_still_be_read():
    """Such outlines were taken once: a record that has one opens, with the area it has had all along."""
    twice = Outline(points_cm=((0, 0), (4, 0), (4, 4), (0, 4)) * 2)
    assert convert(to_builtins(twice), Shape) == twice
    assert twice.area_cm2 == 32.0


def test_outline_with_a_dent_is_no_crossing():
    # Geometry: the square of 16 cm² less the dent's triangle of 4 · 2 / 2 = 4 cm².
    assert outline((0, 0), (4, 0), (4, 4), (2, 2), (0, 4)).area_cm2 == 12.0


def test_zone_takes_its_area_from_its_shape():
    assert zone(shape={"kind": "triangle", "base_cm": 5, "height_cm": 4}, targets={}).measured_cm2 == 10.0
    assert zone(area_cm2=7.5, targets={}).measured_cm2 == 7.5


def test_density_and_mix_become_whole_grafts():
    # Arithmetic: 28/cm² × 17.5 cm² = 490; 0.10 and 0.60 and 0.30 of it are 49, 294 and 147.
    planned = zone(
        area_cm2=17.5, density={"grafts_per_cm2": 28, "mix": {"1": 0.1, "2": 0.6, "3": 0.3}}
    ).planned
    assert planned == {"1": 49, "2": 294, "3": 147}


def test_published_mix_that_sums_to_99_99_per_cent_loses_no_graft():
    # Plast Aesthet Res 2017;4:150-154 prints 28.38/52.62/17.48/1.30/0.21 %; here the fifth is M.
    mix = {"1": 0.2838, "2": 0.5262, "3": 0.1748, "4": 0.0130, "M": 0.0021}
    planned = zone(area_cm2=50, density={"grafts_per_cm2": 20, "mix": mix}).planned
    assert sum(planned.values()) == 1000
    assert planned == {"1": 284, "2": 526, "3": 175, "4": 13, "M": 2}


@given(
    area=st.floats(0.5, 200),
    per_cm2=st.floats(1, 60),
    parts=st.dictionaries(st.sampled_from("1234M"), st.floats(0.01, 1), min_size=1),
)
@settings(max_examples=60)
def test_grafts_of_a_mix_add_up_and_none_is_a_graft_off(area: float, per_cm2: float, parts: dict[str, float]):
    # Arithmetic: the counts add up to density × area, rounded; each is within one graft of its share.
    mix = {size: share / sum(parts.values()) for size, share in parts.items()}
    total = round(area * per_cm2)
    planned = zone(area_cm2=area, density={"grafts_per_cm2": per_cm2, "mix": mix}).planned
    assert sum(planned.values()) == total
    assert all(
        abs(planned[size] - total * share / sum(mix.values())) < 1 + 1e-6 for size, share in mix.items()
    )
