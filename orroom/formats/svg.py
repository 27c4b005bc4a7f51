"""A chart drawn: for a page of HTML with its words, for print without them.

Legible in print and in grey: lines differ in dash, marks in shape, bars in pattern, and each is next to
its name.
"""

from collections.abc import Mapping, Sequence
from math import ceil, floor, log10
from typing import Final, assert_never

from msgspec.structs import replace

from orroom.formats.blocks import plain
from orroom.formats.chart import Band, Bars, Chart, Level, Line, Marks, Range
from orroom.formats.drawing import WIDTH, Drawing, Words, breadth, shortened

HEIGHT: Final = 232
LEFT, RIGHT, TOP, BOTTOM = 56, 200, 50, 42
NAME_ROW: Final = 15
#: Okabe and Ito's colours for colour-blind eyes (Color Universal Design, 2008; from memory), dark to light.
INKS: Final = ("#000000", "#0072B2", "#D55E00", "#009E73", "#CC79A7")
DASHES: Final = ("", "7 3", "2 3", "10 3 2 3", "1 5")
#: Outlines of marks around their middle, each drawn full and then open.
SHAPES: Final = (
    "M-3.5 0a3.5 3.5 0 1 0 7 0a3.5 3.5 0 1 0 -7 0z",
    "M-3.5 -3.5h7v7h-7z",
    "M0 -4.5L4.5 3.5H-4.5z",
)
#: Fills that differ in grey as well: how far the lines of a hatching lie apart, 0 is a full fill.
HATCHES: Final = (0, 3, 5, 8, 12)
#: Bars: the height of a zone's row, room above them, and to their right for what is said of each.
ROW, ABOVE, BESIDE = 30, 30, 100


def drawn(chart: Chart | Bars) -> Drawing:
    """The chart under its title."""
    height, parts = _bars(chart) if isinstance(chart, Bars) else (HEIGHT, _Axes(chart).drawn())
    words = Words(2, 16, chart.title, bold=True)
    return Drawing(chart.title, height, [_settled(each) for each in (words, *parts)])


def _settled(each: str | Words) -> str | Words:
    """Words to a tenth of a unit, with nothing hidden."""
    if isinstance(each, str):
        return each
    return replace(each, x=round(each.x, 1), y=round(each.y, 1), words=plain(each.words))


def nice_step(span: float, most: int = 6) -> float:
    """A step of 1, 2 or 5 times a power of ten that divides ``span`` into at most ``most`` parts."""
    if span <= 0:
        return 1.0
    rough = span / most
    power = 10.0 ** floor(log10(rough))
    return float(next(step * power for step in (1, 2, 5, 10) if step * power >= rough * (1 - 1e-9)))


class _Axes:
    """A chart under way between its axes.

    ``names`` are what stands to the right: how far down, the words, and a sample of what they name.
    """

    def __init__(self, chart: Chart) -> None:
        self.chart = chart
        self.parts: list[str | Words] = []
        self.names: list[tuple[float, str, str]] = []

    def x(self, value: float) -> float:
        low, high = self.chart.x
        return LEFT + (value - low) / ((high - low) or 1) * (WIDTH - LEFT - RIGHT)

    def y(self, value: float) -> float:
        low, high = self.chart.y
        return HEIGHT - BOTTOM - (value - low) / ((high - low) or 1) * (HEIGHT - TOP - BOTTOM)

    def drawn(self) -> list[str | Words]:
        chart, floor_y = self.chart, HEIGHT - BOTTOM
        self._grid()
        for value, words in chart.ticks:
            x = self.x(value)
            self.parts.append(f'<path d="M{x:.1f} {floor_y}v4" stroke="#000000"/>')
            self.parts.append(Words(x, floor_y + 17, words, "middle"))
        for each in chart.shown:
            match each:
                case Line():
                    self._line(each)
                case Level(value, name, ink):
                    self._line(Line([(chart.x[0], value), (chart.x[1], value)], name, ink))
                case Band():
                    self._band(each)
                case Marks():
                    self._marks(each)
                case Range(at, low, high):
                    path = f"M{self.x(at):.1f} {self.y(high):.1f}V{self.y(low):.1f}"
                    self.parts.append(f'<path d="{path}" stroke="#000000" stroke-width="1"/>')
                case _:
                    assert_never(each)
        self.parts.append(f'<path d="M{LEFT} {TOP}V{floor_y}H{WIDTH - RIGHT}" fill="none" stroke="#000000"/>')
        for y, name, sample in _apart(self.names, floor_y):
            self.parts.append(f'<g transform="translate({WIDTH - RIGHT + 6} {y:.1f})">{sample}</g>')
            self.parts.append(Words(WIDTH - RIGHT + 34, y + 4, shortened(name, RIGHT - 36)))
        self.parts.append(Words((LEFT + WIDTH - RIGHT) / 2, HEIGHT - 6, chart.x_label, "middle"))
        self.parts.append(Words(2, TOP - 14, chart.y_label))
        return self.parts

    def _grid(self) -> None:
        low, high = self.chart.y
        step = nice_step(high - low)
        for number in range(ceil(low / step - 1e-9), floor(high / step + 1e-9) + 1):
            y = self.y(number * step)
            self.parts.append(
                f'<path d="M{LEFT} {y:.1f}H{WIDTH - RIGHT}" stroke="#BBBBBB" stroke-width="0.6"/>'
            )
            self.parts.append(Words(LEFT - 6, y + 4, f"{number * step:,g}".replace("-", "−"), "end"))

    def _line(self, line: Line) -> None:
        (first_x, first_y), *others = line.points
        path = [f"M{self.x(first_x):.1f} {self.y(first_y):.1f}"]
        for x, y in others:
            across, up = f"{self.x(x):.1f}", f"{self.y(y):.1f}"
            path.append(f"H{across}V{up}" if line.steps else f"L{across} {up}")
        dashes = DASHES[line.ink % 5] and f' stroke-dasharray="{DASHES[line.ink % 5]}"'
        look = f'fill="none" stroke="{INKS[line.ink % 5]}" stroke-width="1.8"{dashes}'
        self.parts.append(f'<path d="{"".join(path)}" {look}/>')
        if line.name:
            self.names.append((self.y(line.points[-1][1]), line.name, f'<path d="M0 0h22" {look}/>'))

    def _band(self, band: Band) -> None:
        least, most = self.chart.y
        top = self.y(most if band.high is None else min(band.high, most))
        bottom = self.y(least if band.low is None else max(band.low, least))
        look = 'fill="#DDDDDD" stroke="#888888" stroke-width="0.6"'
        self.parts.append(
            f'<rect x="{LEFT}" y="{top:.1f}" width="{WIDTH - LEFT - RIGHT}" '
            f'height="{max(0.0, bottom - top):.1f}" {look}/>'
        )
        sample = f'<rect x="4" y="-5" width="14" height="10" {look}/>'
        self.names.append(((top + bottom) / 2, band.name, sample))

    def _marks(self, marks: Marks) -> None:
        for x, y in marks.points:
            across, up = self.x(x), self.y(y)
            if marks.stems:
                path = f"M{across:.1f} {self.y(0):.1f}V{up:.1f}"
                self.parts.append(f'<path d="{path}" stroke="#000000"/>')
            self.parts.append(_mark(across, up, marks.shape))
        self.names.append((self.y(marks.points[-1][1]), marks.name, _mark(11, 0, marks.shape)))
        for (x, y), words in zip(marks.points, marks.words, strict=False):
            self.parts.append(Words(self.x(x) + 8, self.y(y) + 4, words, on_white=True))


def _mark(x: float, y: float, shape: int) -> str:
    outline, fill = SHAPES[shape // 2 % 3], "#FFFFFF" if shape % 2 else "#000000"
    return f'<path d="{outline}" transform="translate({x:.1f} {y:.1f})" fill="{fill}" stroke="#000000"/>'


def _apart(names: Sequence[tuple[float, str, str]], lowest: float) -> list[tuple[float, str, str]]:
    """Names moved so that none stands on another, nor below ``lowest``."""
    found: list[tuple[float, str, str]] = []
    for y, name, sample in sorted(names):
        found.append((max(y, found[-1][0] + NAME_ROW) if found else y, name, sample))
    free = lowest
    for place in reversed(range(len(found))):
        y, name, sample = found[place]
        found[place] = (min(y, free), name, sample)
        free = found[place][0] - NAME_ROW
    return found


def _bars(chart: Bars) -> tuple[float, list[str | Words]]:
    """Height and parts."""
    most = max(sum(counts.values()) for bar in chart.bars for counts in (bar.planned, bar.placed)) or 1
    left = min(280.0, 24 + max(breadth(bar.name) for bar in chart.bars))
    room = WIDTH - left - BESIDE
    fills = {size: f"size-{size}" for size in chart.sizes}
    parts: list[str | Words] = [_hatched(name, number) for number, name in enumerate(fills.values())]
    for number, bar in enumerate(chart.bars):
        y = ABOVE + number * ROW
        parts.append(Words(left - 8, y + 17, shortened(bar.name, left - 16), "end"))
        for counts, down, high in ((bar.planned, 1, 6), (bar.placed, 9, 14)):
            parts += _stacked(counts, fills, (left, y + down, room / most, high))
        parts.append(Words(left + room + 8, y + 17, bar.said))
    x, y = left, ABOVE + len(chart.bars) * ROW + 18
    for size, label in chart.sizes.items():
        words = shortened(label, WIDTH - left - 30)
        if x > left and x + 24 + breadth(words) > WIDTH:
            x, y = left, y + 18
        parts.append(
            f'<rect x="{x:.0f}" y="{y - 10:.0f}" width="14" height="12" fill="url(#{fills[size]})" '
            'stroke="#000000" stroke-width="0.6"/>'
        )
        parts.append(Words(x + 19, y, words))
        x += 36 + breadth(words)
    return y + 12, parts


def _stacked(
    counts: Mapping[str, int], fills: Mapping[str, str], place: tuple[float, float, float, float]
) -> list[str]:
    """A bar of all sizes. ``place``: left, top, width of one graft, height."""
    x, y, each, high = place
    parts = []
    for size, fill in fills.items():
        width = counts.get(size, 0) * each
        if width:
            parts.append(
                f'<rect x="{x:.1f}" y="{y}" width="{width:.1f}" height="{high}" fill="url(#{fill})" '
                'stroke="#000000" stroke-width="0.6"/>'
            )
        x += width
    return parts


def _hatched(identity: str, ink: int) -> str:
    """A fill that differs from others in grey: full, or lines so far apart."""
    apart, colour = HATCHES[ink % 5], INKS[ink % 5]
    if not apart:
        return (
            f'<linearGradient id="{identity}"><stop offset="0" stop-color="{colour}"/>'
            f'<stop offset="1" stop-color="{colour}"/></linearGradient>'
        )
    return (
        f'<pattern id="{identity}" width="{apart}" height="{apart}" patternUnits="userSpaceOnUse" '
        f'patternTransform="rotate({45 if ink % 2 else 0})">'
        f'<rect width="{apart}" height="{apart}" fill="#FFFFFF"/>'
        f'<path d="M0 0V{apart}" stroke="{colour}" stroke-width="1.6"/></pattern>'
    )
