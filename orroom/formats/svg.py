"""A small chart in SVG: axes, lines, bars, marks and bands.

Legible in print and in grey: lines differ in dash, marks in shape, bars in pattern, and each stands beside
its name.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass, field
from html import escape, unescape
from math import ceil, floor, log10
from typing import Final, NamedTuple

WIDTH: Final = 720
HEIGHT: Final = 288
LEFT, RIGHT, TOP, BOTTOM = 56, 200, 50, 42
NAME_ROW: Final = 15
#: Size of the words; on an A4 page, 12 come to 8.4 pt.
FONT: Final = 12
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
_BOLD: Final = ' font-weight="bold"'
_AROUND: Final = ' style="paint-order:stroke" stroke="#FFFFFF" stroke-width="4" stroke-linejoin="round"'
_WORDS: Final = re.compile(r'<text x="([\d.-]+)" y="([\d.-]+)" text-anchor="(\w+)"([^>]*)>([^<]*)</text>')


def nice_step(span: float, most: int = 6) -> float:
    """A step of 1, 2 or 5 times a power of ten that divides ``span`` into at most ``most`` parts."""
    if span <= 0:
        return 1.0
    rough = span / most
    power = 10.0 ** floor(log10(rough))
    return float(next(step * power for step in (1, 2, 5, 10) if step * power >= rough * (1 - 1e-9)))


@dataclass
class Chart:
    """A chart under way. ``x`` and ``y`` are the ends of the axes in the units of the data.

    ``names`` are what stands to the right: how far down, the words, and a sample of what they name.
    """

    title: str
    x: tuple[float, float]
    y: tuple[float, float]
    x_label: str = ""
    y_label: str = ""
    height: int = HEIGHT
    parts: list[str] = field(default_factory=list)
    names: list[tuple[float, str, str]] = field(default_factory=list)

    def at_x(self, value: float) -> float:
        """Where a value lies across."""
        low, high = self.x
        return LEFT + (value - low) / ((high - low) or 1) * (WIDTH - LEFT - RIGHT)

    def at_y(self, value: float) -> float:
        """Where a value lies up."""
        low, high = self.y
        return self.height - BOTTOM - (value - low) / ((high - low) or 1) * (self.height - TOP - BOTTOM)

    def line(
        self, points: Sequence[tuple[float, float]], name: str, ink: int = 0, *, steps: bool = False
    ) -> None:
        """A line through the points, in steps for what jumps; its name, if it has one, stands at its end."""
        if not points:
            return
        path = [f"M{self.at_x(points[0][0]):.1f} {self.at_y(points[0][1]):.1f}"]
        for x, y in points[1:]:
            across, up = f"{self.at_x(x):.1f}", f"{self.at_y(y):.1f}"
            path.append(f"H{across}V{up}" if steps else f"L{across} {up}")
        dashes = f' stroke-dasharray="{DASHES[ink % 5]}"' if DASHES[ink % 5] else ""
        look = f'fill="none" stroke="{INKS[ink % 5]}" stroke-width="1.8"{dashes}'
        self.parts.append(f'<path d="{"".join(path)}" {look}/>')
        if name:
            self.names.append((self.at_y(points[-1][1]), name, f'<path d="M0 0h22" {look}/>'))

    def level(self, value: float, name: str, ink: int = 0) -> None:
        """A level across the whole chart."""
        self.line([(self.x[0], value), (self.x[1], value)], name, ink)

    def band(self, low: float, high: float, name: str) -> None:
        """A band of what is wanted, across the whole chart."""
        top, bottom = self.at_y(min(high, self.y[1])), self.at_y(max(low, self.y[0]))
        look = 'fill="#DDDDDD" stroke="#888888" stroke-width="0.6"'
        self.parts.append(
            f'<rect x="{LEFT}" y="{top:.1f}" width="{WIDTH - LEFT - RIGHT}" '
            f'height="{max(0.0, bottom - top):.1f}" {look}/>'
        )
        self.names.append(((top + bottom) / 2, name, f'<rect x="4" y="-5" width="14" height="10" {look}/>'))

    def dot(self, x: float, y: float) -> None:
        """A full dot without a name."""
        self.parts.append(_mark(self.at_x(x), self.at_y(y), 0))

    def marks(
        self, points: Sequence[tuple[float, float]], name: str, shape: int = 0, stem: float | None = None
    ) -> None:
        """A mark at each point, with a stem from the level ``stem``; its name stands at the last one."""
        for x, y in points:
            across, up = self.at_x(x), self.at_y(y)
            if stem is not None:
                drawn = f"M{across:.1f} {self.at_y(stem):.1f}V{up:.1f}"
                self.parts.append(f'<path d="{drawn}" stroke="#000000"/>')
            self.parts.append(_mark(across, up, shape))
        self.names.append((self.at_y(points[-1][1]), name, _mark(11, 0, shape)))

    def words(self, x: float, y: float, words: str) -> None:
        """Words to the right of a place, with white around them where they stand on lines."""
        self.parts.append(words_at(self.at_x(x) + 8, self.at_y(y) + 4, words, look=_AROUND))

    def ticks_x(self, values: Sequence[tuple[float, str]]) -> None:
        """Marks along the lower axis with their words."""
        for value, words in values:
            x = self.at_x(value)
            self.parts.append(f'<path d="M{x:.1f} {self.height - BOTTOM}v4" stroke="#000000"/>')
            self.parts.append(words_at(x, self.height - BOTTOM + 17, words, "middle"))

    def svg(self) -> str:
        """The chart under its title."""
        step = nice_step(self.y[1] - self.y[0])
        grid = []
        for number in range(ceil(self.y[0] / step - 1e-9), floor(self.y[1] / step + 1e-9) + 1):
            y = self.at_y(number * step)
            grid.append(f'<path d="M{LEFT} {y:.1f}H{WIDTH - RIGHT}" stroke="#BBBBBB" stroke-width="0.6"/>')
            grid.append(words_at(LEFT - 6, y + 4, f"{number * step:,g}".replace("-", "−"), "end"))
        axes = (
            f'<path d="M{LEFT} {TOP}V{self.height - BOTTOM}H{WIDTH - RIGHT}" fill="none" stroke="#000000"/>'
        )
        named = [
            f'<g transform="translate({WIDTH - RIGHT + 6} {y:.1f})">{sample}</g>'
            + words_at(WIDTH - RIGHT + 34, y + 4, shortened(name, RIGHT - 36))
            for y, name, sample in _apart(self.names, self.height - BOTTOM)
        ]
        labels = [
            words_at((LEFT + WIDTH - RIGHT) / 2, self.height - 6, self.x_label, "middle"),
            words_at(2, TOP - 14, self.y_label),
        ]
        return drawing(self.title, self.height, [*grid, *self.parts, axes, *named, *labels])


def drawing(title: str, height: float, parts: Sequence[str]) -> str:
    """A whole drawing under its title, which is also its text for who cannot see it."""
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {height:.0f}" role="img" '
        f'aria-label="{escape(title)}" font-family="sans-serif" font-size="{FONT}">'
        f"<title>{escape(title)}</title>"
        f"{words_at(2, 16, title, look=_BOLD)}{''.join(parts)}</svg>"
    )


def title_of(svg: str) -> str:
    """The title of a drawing."""
    return unescape(svg.partition("<title>")[2].partition("</title>")[0])


def hatched(identity: str, ink: int) -> str:
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


def words_at(x: float, y: float, words: str, anchor: str = "start", look: str = "") -> str:
    """Words at a place; nothing for none."""
    if not words:
        return ""
    return f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}"{look}>{escape(words)}</text>'


class Words(NamedTuple):
    """Words of a drawing: where they begin, or have their middle or end, and how they look."""

    x: float
    y: float
    anchor: str
    bold: bool
    on_white: bool
    words: str


def apart(svg: str) -> tuple[str, list[Words]]:
    """A drawing without its words, and the words, for a page that sets words itself."""
    words = [
        Words(float(x), float(y), anchor, _BOLD in look, _AROUND in look, unescape(said))
        for x, y, anchor, look, said in _WORDS.findall(svg)
    ]
    return _WORDS.sub("", svg), words


def breadth(words: str) -> float:
    """How broad words are in a broad plain font at the size of a chart."""
    return sum(map(_breadth, words))


def _breadth(character: str) -> float:
    if unicodedata.east_asian_width(character) in "WF":
        return FONT
    if unicodedata.combining(character):
        return 0
    if character in " .,:;'|!iljIftr()[]/-":
        return FONT * 0.36
    if character in "mMW%@—…":
        return FONT
    return FONT * (0.8 if character.isupper() or character == "w" else 0.64)


def shortened(words: str, room: float) -> str:
    """``words``, or as many of them as fit and an ellipsis."""
    if breadth(words) <= room:
        return words
    kept = words
    while kept and breadth(kept + "…") > room:
        kept = kept[:-1]
    return kept.rstrip() + "…"


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
