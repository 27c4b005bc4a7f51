"""What a chart shows over two axes, as data and names. How it looks: ``svg.py``."""

from collections.abc import Sequence

from msgspec import Struct

Point = tuple[float, float]


class Line(Struct, frozen=True):
    """A line through the points, in steps for what jumps; its name, if it has one, is put at its end."""

    points: Sequence[Point]
    name: str = ""
    ink: int = 0
    steps: bool = False


class Level(Struct, frozen=True):
    """A level across the whole chart."""

    value: float
    name: str
    ink: int = 0


class Band(Struct, frozen=True):
    """A band of what is wanted, across the whole chart; without an end it goes to the edge."""

    low: float | None
    high: float | None
    name: str


class Marks(Struct, frozen=True):
    """A mark at each point, of one shape; the name is put at the last one.

    ``stems`` go from the lower edge of what is possible, 0, to each mark. ``words`` are next to the marks.
    """

    points: Sequence[Point]
    name: str
    shape: int = 0
    stems: bool = False
    words: Sequence[str] = ()


class Range(Struct, frozen=True):
    """A line up and down, from the lower to the higher end of the range of one point."""

    at: float
    low: float
    high: float


class Chart(Struct, frozen=True):
    """What is shown over two axes that end at ``x`` and ``y``, with ``ticks`` along the lower one."""

    title: str
    x: tuple[float, float]
    y: tuple[float, float]
    x_label: str
    y_label: str
    ticks: Sequence[tuple[float, str]]
    shown: Sequence[Line | Level | Band | Marks | Range]
