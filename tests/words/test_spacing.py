"""How far apart sites lie, against the published constant and geometry, and ``orroom spacing``."""

from __future__ import annotations

import math
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from orroom.case.shapes import Ellipse, Triangle
from orroom.cli import main
from orroom.figures.density import sites_in_area, sites_in_row, spacing_of
from orroom.files.plan_file import load_plan
from orroom.words.spacing import plan_spacing

SAMPLES = Path(__file__).parents[2] / "sample_cases"
densities = st.floats(1, 400)


def orroom(*arguments: object) -> Result:
    return CliRunner().invoke(main, [str(each) for each in arguments])


@pytest.mark.parametrize(("sites_per_cm2", "published_mm"), [(114.5, 1.000), (30, 1.954), (40, 1.692)])
def test_published_spacings(sites_per_cm2: float, published_mm: float):
    # L = 10.7/√n: Jimenez & Ruifernandez, Dermatol Surg 1999;25:294–298, second-hand. Their constant lies
    # 0.43 % below the exact 10.7457, and so do their distances; printing three decimals adds up to 0.05 %.
    exact_mm = spacing_of(sites_per_cm2).neighbours_mm
    assert exact_mm == pytest.approx(published_mm, rel=0.0048)
    assert exact_mm * 10.7 / 10.7457 == pytest.approx(published_mm, abs=0.0005)


def test_the_exact_constants():
    # Geometry: 10·√(2/√3) = 10.7457 for interlocked rows, 10 for a square grid (arithmetic).
    one = spacing_of(1)
    assert one.neighbours_mm == pytest.approx(10.7457, abs=0.00005)
    assert one.square_grid_mm == 10
    assert one.row_pitch_mm == pytest.approx(9.3060, abs=0.00005)  # 10.7457 · √3/2


@given(sites_per_cm2=densities)
@settings(max_examples=50)
def test_a_site_has_its_share_of_the_area(sites_per_cm2: float):
    # Geometry: each site has distance × row pitch to itself, in either grid 100 mm² / density.
    spacing = spacing_of(sites_per_cm2)
    assert spacing.neighbours_mm * spacing.row_pitch_mm == pytest.approx(100 / sites_per_cm2)
    assert spacing.square_grid_mm**2 == pytest.approx(100 / sites_per_cm2)


@given(sites_per_cm2=st.floats(10, 80))
@settings(max_examples=10, deadline=None)
def test_a_grid_laid_at_these_distances_has_the_density(sites_per_cm2: float):
    # Count of a whole grid laid out over about 10 × 10 cm; the edge is worth a row and a column at most.
    spacing = spacing_of(sites_per_cm2)
    rows = int(100 / spacing.row_pitch_mm)
    sites = [
        (column * spacing.neighbours_mm + row % 2 * spacing.neighbours_mm / 2, row * spacing.row_pitch_mm)
        for row in range(rows)
        for column in range(int(100 / spacing.neighbours_mm))
    ]
    nearest = min(math.dist(sites[0], other) for other in sites[1:])
    assert nearest == pytest.approx(spacing.neighbours_mm)
    assert len(sites) == pytest.approx(100 * sites_per_cm2, rel=0.1)


@pytest.mark.parametrize(
    ("row_mm", "neighbours_mm", "sites"),
    [(10, 2, 6), (9.99, 2, 5), (0.5, 2, 1), (0.3, 0.1, 4)],
)
def test_sites_in_a_row(row_mm: float, neighbours_mm: float, sites: int):
    # Arithmetic: whole steps that fit, and one; 0.3 / 0.1 is 2.9999… in a machine and 3 steps all the same.
    assert sites_in_row(row_mm, neighbours_mm) == sites


def test_sites_of_an_area():
    # Arithmetic: 40/cm² × 4 cm² = 160; 28 × 9.42 = 263.8.
    assert sites_in_area(4, 40) == 160
    assert sites_in_area(9.42, 28) == 264


# Areas, with shapely as the reference.


def test_published_areas_in_a_geometry_library():
    from shapely import Point, Polygon

    # Ellipse 8×6 cm = 37.70 cm², triangle 5×4 cm = 10.0 cm² (arithmetic); 8,000 corners.
    circle = Point(0, 0).buffer(1, quad_segs=2000)
    ellipse = Polygon([(4 * x, 3 * y) for x, y in circle.exterior.coords])
    assert Ellipse(length_cm=8, width_cm=6).area_cm2 == pytest.approx(ellipse.area, rel=1e-5)
    assert ellipse.area == pytest.approx(37.70, abs=0.005)
    triangle = Polygon([(0, 0), (5, 0), (1, 4)])
    assert Triangle(base_cm=5, height_cm=4).area_cm2 == triangle.area == 10.0


# The verb.


def test_spacing_of_one_density():
    # 10.7457/√40 = 1.699, · √3/2 = 1.471, 10/√40 = 1.581; 60/1.699 = 35.3: 36 sites; 4 × 40 = 160.
    result = orroom("spacing", "--density", 40, "--front-mm", 60, "--area-cm2", 4)
    assert result.exit_code == 0
    words = [" ".join(line.split()) for line in result.output.splitlines()]
    assert words[:6] == [
        "40 sites/cm²",
        "between neighbours 1.70 mm",
        "between rows 1.47 mm",
        "square grid, for comparison 1.58 mm",
        "front row of 60 mm 36 sites",
        "area of 4 cm² 160 sites",
    ]
    assert "Dermatol Surg 1999;25:294–298" in result.output


def test_spacing_of_every_zone_of_a_plan():
    plan = load_plan(SAMPLES / "vertex" / "plan.toml")
    result = orroom("spacing", SAMPLES / "vertex" / "plan.toml")
    assert result.exit_code == 0
    rows = {line.strip().rsplit(maxsplit=5)[0]: line.split()[-5:] for line in result.output.splitlines()[1:6]}
    assert list(rows) == [zone.label for zone in plan.zones]
    assert rows["upper arc"] == ["17.5", "28.0", "2.03", "1.76", "490"]  # 10.7457/√28 = 2.0307


def test_a_zone_without_grafts_has_no_spacing():
    plan = load_plan(SAMPLES / "two-lots" / "plan.toml")
    bare = replace(plan.zones[0], targets={})
    assert "hairline left   3.0        —              —        —      0" in plan_spacing(
        replace(plan, zones=(bare, *plan.zones[1:]))
    )


@pytest.mark.parametrize(
    ("arguments", "expected"),
    [
        ([], "give either a PLAN file or --density"),
        (["plan.toml", "--density", 40], "give either a PLAN file or --density"),
        (["plan.toml", "--front-mm", 40], "--front-mm and --area-cm2 go with --density"),
        (["--density", "nan"], "nan is not a number"),
        (["--density", 0], "0.0 is not in the range"),
        (["--density", "inf"], "inf is not in the range"),
    ],
)
def test_spacing_of_nothing(arguments: list[object], expected: str):
    result = orroom("spacing", *arguments)
    assert result.exit_code == 2
    assert expected in result.stderr


def test_one_site_is_one_site():
    said = CliRunner().invoke(main, ["spacing", "--density", "40", "--front-mm", "1", "--area-cm2", "0.03"])
    assert said.output.count("1 site\n") == 2
