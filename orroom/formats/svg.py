"""A chart drawn: for a page of HTML with its words, for print without them.

Legible in print and in grey: lines differ in dash, marks in shape, and each is next to its name.
"""

from collections.abc import Sequence
from math import ceil, floor, log10
from typing import Final, assert_never

from msgspec.structs import replace

from orroom.formats.blocks import plain
from orroom.formats.chart import Band, Chart, Level, Line, Marks, Range
from orroom.formats.chart_words import in_words
from orroom.formats.drawing import FONT, WIDTH, Drawing, Words, breadth, shortened

HEIGHT: Final = 232
LEFT, RIGHT, TOP, BOTTOM = 56, 200, 50, 42
NAME_ROW: Final = 15
#: How much broader bold words are.
BOLD: Final = 1.1
#: A chart in a column of print: its breadth on 86 mm, what is left for its lines, and their height; its names
#: are above it.
COLUMN: Final = 348
COLUMN_RIGHT, COLUMN_HIGH = 8, 92
#: Okabe and Ito's colours for colour-blind eyes (Color Universal Design, 2008; from memory), dark to light.
INKS: Final = ("#000000", "#0072B2", "#D55E00", "#009E73", "#CC79A7")
DASHES: Final = ("", "7 3", "2 3", "10 3 2 3", "1 5")
#: Outlines of marks around their middle, each drawn full and then open.
SHAPES: Final = (
    "M-3.5 0a3.5 3.5 0 1 0 7 0a3.5 3.5 0 1 0 -7 0z",
    "M-3.5 -3.5h7v7h-7z",
    "M0 -4.5L4.5 3.5H-4.5z",
)


def drawn(chart: Chart, width: float = WIDTH) -> Drawing:
    """The chart under its title, as broad as the page or as a column (``COLUMN``)."""
    height, parts = _Axes(chart, width).drawn()
    return Drawing(in_words(chart), height, [_settled(each) for each in parts], width)


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

    def __init__(self, chart: Chart, width: float) -> None:
        self.chart, self.width, self.narrow = chart, width, width < WIDTH
        self.end = width - (COLUMN_RIGHT if self.narrow else RIGHT)
        self.title = _in_lines(chart.title, (width - 4) / BOLD)
        self.y_label = _in_lines(chart.y_label, width - 4)
        self.rows = _in_rows([getattr(each, "name", "") for each in chart.shown], width)
        self.below_title = TOP - 14 + NAME_ROW * (len(self.title) - 1)
        above = len(self.y_label) - 1 + (self.rows[-1][1] + 1 if self.rows and self.narrow else 0)
        self.top = self.below_title + 14 + NAME_ROW * above
        self.floor = self.top + COLUMN_HIGH if self.narrow else HEIGHT - BOTTOM
        self.parts: list[str | Words] = []
        self.names: list[tuple[float, str, str]] = []

    def x(self, value: float) -> float:
        low, high = self.chart.x
        return LEFT + (value - low) / ((high - low) or 1) * (self.end - LEFT)

    def y(self, value: float) -> float:
        low, high = self.chart.y
        return self.floor - (value - low) / ((high - low) or 1) * (self.floor - self.top)

    def drawn(self) -> tuple[float, list[str | Words]]:
        """Height and parts."""
        chart, floor_y = self.chart, self.floor
        self.parts += [Words(2, 16 + NAME_ROW * n, line, bold=True) for n, line in enumerate(self.title)]
        self._grid()
        for value, words in self._ticks():
            x = self.x(value)
            self.parts.append(f'<path d="M{x:.1f} {floor_y}v4" stroke="#000000"/>')
            middle = min(x, self.width - 1 - breadth(words) / 2)
            self.parts.append(Words(middle, floor_y + 17, words, "middle"))
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
        self.parts.append(f'<path d="M{LEFT} {self.top}V{floor_y}H{self.end}" fill="none" stroke="#000000"/>')
        self._named()
        height = floor_y + BOTTOM
        self.parts.append(Words((LEFT + self.end) / 2, height - 6, chart.x_label, "middle"))
        self.parts += [Words(2, self.below_title + NAME_ROW * n, line) for n, line in enumerate(self.y_label)]
        return height, self.parts

    def _named(self) -> None:
        """What each line, band and mark is: at its end, or in rows above."""
        if self.narrow:
            first = self.below_title + NAME_ROW * len(self.y_label) - 3
            places: list[tuple[float, float]] = [(x, first + NAME_ROW * row) for x, row in self.rows]
            names, room = self.names, self.width - 40
        else:
            names, room = _apart(self.names, self.floor), RIGHT - 36
            places = [(self.end + 6, y) for y, _, _ in names]
        for (x, y), (_, name, sample) in zip(places, names, strict=True):
            self.parts.append(f'<g transform="translate({x:.0f} {y:.1f})">{sample}</g>')
            self.parts.append(Words(x + 28, y + 4, shortened(plain(name), room)))

    def _name(self, y: float, name: str, sample: str) -> None:
        if name:
            self.names.append((y, name, sample))

    def _ticks(self) -> Sequence[tuple[float, str]]:
        """The marks along the lower axis, or every second or third one where they would touch."""
        ticks = self.chart.ticks
        each = (self.end - LEFT) / max(1, len(ticks))
        widest = max((breadth(words) for _, words in ticks), default=0) + FONT / 2
        return ticks[:: max(1, ceil(widest / each))]

    def _grid(self) -> None:
        low, high = self.chart.y
        step = nice_step(high - low, 4 if self.narrow else 6)
        for number in range(ceil(low / step - 1e-9), floor(high / step + 1e-9) + 1):
            y = self.y(number * step)
            self.parts.append(f'<path d="M{LEFT} {y:.1f}H{self.end}" stroke="#BBBBBB" stroke-width="0.6"/>')
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
        self._name(self.y(line.points[-1][1]), line.name, f'<path d="M0 0h22" {look}/>')

    def _band(self, band: Band) -> None:
        least, most = self.chart.y
        top = self.y(most if band.high is None else min(band.high, most))
        bottom = self.y(least if band.low is None else max(band.low, least))
        look = 'fill="#DDDDDD" stroke="#888888" stroke-width="0.6"'
        self.parts.append(
            f'<rect x="{LEFT}" y="{top:.1f}" width="{self.end - LEFT}" '
            f'height="{max(0.0, bottom - top):.1f}" {look}/>'
        )
        sample = f'<rect x="4" y="-5" width="14" height="10" {look}/>'
        self._name((top + bottom) / 2, band.name, sample)

    def _marks(self, marks: Marks) -> None:
        for x, y in marks.points:
            across, up = self.x(x), self.y(y)
            if marks.stems:
                path = f"M{across:.1f} {self.y(0):.1f}V{up:.1f}"
                self.parts.append(f'<path d="{path}" stroke="#000000"/>')
            self.parts.append(_mark(across, up, marks.shape))
        self._name(self.y(marks.points[-1][1]), marks.name, _mark(11, 0, marks.shape))
        free, base = 0.0, 0.0  # where the words before end, and how low they are
        for (x, y), words in zip(marks.points, marks.words, strict=False):
            before = self.x(x) + 8 + breadth(words) > self.width
            left = self.x(x) - 8 - breadth(words) if before else self.x(x) + 8
            lies_on = left < free and self.y(y) + 4 - NAME_ROW < base
            base = base + NAME_ROW if lies_on else self.y(y) + 4
            free = left + breadth(words)
            self.parts.append(Words(left, base, words, on_white=True))


def _mark(x: float, y: float, shape: int) -> str:
    outline, fill = SHAPES[shape // 2 % 3], "#FFFFFF" if shape % 2 else "#000000"
    return f'<path d="{outline}" transform="translate({x:.1f} {y:.1f})" fill="{fill}" stroke="#000000"/>'


def _in_rows(names: Sequence[str], width: float) -> list[tuple[float, int]]:
    """Where each name with its sample is in rows one below the other: how far to the right, which row."""
    found: list[tuple[float, int]] = []
    x, row = 2.0, 0
    for name in filter(None, names):
        broad = 28 + min(breadth(name), width - 40)
        if x > 2 and x + broad > width:
            x, row = 2.0, row + 1
        found.append((x, row))
        x += broad + 14
    return found


def _in_lines(words: str, room: float) -> list[str]:
    """Words in as many lines as they need."""
    lines = [""]
    for word in plain(words).split():
        longer = f"{lines[-1]} {word}".strip()
        if lines[-1] and breadth(longer) > room:
            lines.append(word)
        else:
            lines[-1] = longer
    return [shortened(line, room) for line in lines]


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
