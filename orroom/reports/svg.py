"""A small chart in SVG: axes, lines, bars, dots and bands.

Legible in print and in grey: lines differ in dash, bars in pattern, and each stands beside its name.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from html import escape
from math import ceil, floor, log10
from typing import Final

WIDTH: Final = 720
HEIGHT: Final = 260
LEFT, RIGHT, TOP, BOTTOM = 56, 150, 20, 40
NAME_ROW: Final = 13
#: Okabe and Ito's colours for colour-blind eyes (Color Universal Design, 2008; from memory), dark to light.
INKS: Final = ("#000000", "#0072B2", "#D55E00", "#009E73", "#CC79A7")
DASHES: Final = ("", "6 3", "2 3", "10 3 2 3", "1 4")
#: Fills that differ in grey as well: how far the lines of a hatching lie apart, 0 is a full fill.
HATCHES: Final = (0, 3, 5, 8, 12)


def nice_step(span: float, most: int = 6) -> float:
    """A step of 1, 2 or 5 times a power of ten that divides ``span`` into at most ``most`` parts."""
    if span <= 0:
        return 1.0
    rough = span / most
    power = 10.0 ** floor(log10(rough))
    return float(next(step * power for step in (1, 2, 5, 10) if step * power >= rough * (1 - 1e-9)))


@dataclass
class Chart:
    """A chart under way. ``x`` and ``y`` are the ends of the axes in the units of the data."""

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
        """A line through the points, in steps for what jumps; its name stands at its end."""
        if not points:
            return
        path = [f"M{self.at_x(points[0][0]):.1f} {self.at_y(points[0][1]):.1f}"]
        for x, y in points[1:]:
            across, up = f"{self.at_x(x):.1f}", f"{self.at_y(y):.1f}"
            path.append(f"H{across}V{up}" if steps else f"L{across} {up}")
        self.parts.append(
            f'<path d="{"".join(path)}" fill="none" stroke="{INKS[ink % 5]}" stroke-width="1.8" '
            f'stroke-dasharray="{DASHES[ink % 5]}"/>'
        )
        self.names.append((self.at_y(points[-1][1]), name, INKS[ink % 5]))

    def level(self, value: float, name: str, ink: int = 0) -> None:
        """A level across the whole chart."""
        self.line([(self.x[0], value), (self.x[1], value)], name, ink)

    def band(self, low: float, high: float) -> None:
        """A band of what is wanted, across the whole chart."""
        top, bottom = self.at_y(min(high, self.y[1])), self.at_y(max(low, self.y[0]))
        self.parts.append(
            f'<rect x="{LEFT}" y="{top:.1f}" width="{WIDTH - LEFT - RIGHT}" '
            f'height="{max(0.0, bottom - top):.1f}" fill="#DDDDDD"/>'
        )

    def dot(self, x: float, y: float, *, filled: bool = True, words: str = "") -> None:
        """A dot, with words beside it."""
        fill = "#000000" if filled else "#FFFFFF"
        self.parts.append(
            f'<circle cx="{self.at_x(x):.1f}" cy="{self.at_y(y):.1f}" r="3" fill="{fill}" stroke="#000000"/>'
        )
        if words:
            self.parts.append(words_at(self.at_x(x) + 6, self.at_y(y) - 5, words))

    def ticks_x(self, values: Sequence[tuple[float, str]]) -> None:
        """Marks along the lower axis with their words."""
        for value, words in values:
            x = self.at_x(value)
            self.parts.append(f'<path d="M{x:.1f} {self.height - BOTTOM}v4" stroke="#000000"/>')
            self.parts.append(words_at(x, self.height - BOTTOM + 16, words, "middle"))

    def svg(self) -> str:
        """The chart; its title is its text for who cannot see it."""
        step = nice_step(self.y[1] - self.y[0])
        grid = []
        for number in range(ceil(self.y[0] / step - 1e-9), floor(self.y[1] / step + 1e-9) + 1):
            y = self.at_y(number * step)
            grid.append(f'<path d="M{LEFT} {y:.1f}H{WIDTH - RIGHT}" stroke="#CCCCCC" stroke-width="0.6"/>')
            grid.append(words_at(LEFT - 6, y + 4, f"{number * step:,g}", "end"))
        axes = (
            f'<path d="M{LEFT} {TOP}V{self.height - BOTTOM}H{WIDTH - RIGHT}" fill="none" stroke="#000000"/>'
        )
        beside = _apart(self.names, self.height - BOTTOM)
        named = [words_at(WIDTH - RIGHT + 6, y + 4, name, ink=ink) for y, name, ink in beside]
        labels = [
            words_at((LEFT + WIDTH - RIGHT) / 2, self.height - 6, self.x_label, "middle"),
            words_at(LEFT, TOP - 5, self.y_label),
        ]
        return drawing(self.title, self.height, [*grid, *self.parts, axes, *named, *labels])


def drawing(title: str, height: float, parts: Sequence[str]) -> str:
    """A whole drawing; its title is its text for who cannot see it."""
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {height:.0f}" role="img" '
        f'aria-label="{escape(title)}" font-family="sans-serif" font-size="11">'
        f"<title>{escape(title)}</title>{''.join(parts)}</svg>"
    )


def hatched(identity: str, ink: int) -> str:
    """A fill that differs from others in grey: full, or lines so far apart."""
    apart, colour = HATCHES[ink % 5], INKS[ink % 5]
    if not apart:
        return (
            f'<pattern id="{identity}" width="4" height="4" patternUnits="userSpaceOnUse">'
            f'<rect width="4" height="4" fill="{colour}"/></pattern>'
        )
    return (
        f'<pattern id="{identity}" width="{apart}" height="{apart}" patternUnits="userSpaceOnUse" '
        f'patternTransform="rotate({45 if ink % 2 else 0})">'
        f'<rect width="{apart}" height="{apart}" fill="#FFFFFF"/>'
        f'<path d="M0 0V{apart}" stroke="{colour}" stroke-width="1.6"/></pattern>'
    )


def words_at(x: float, y: float, words: str, anchor: str = "start", ink: str = "#000000") -> str:
    """Words at a place; nothing for none."""
    if not words:
        return ""
    return f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}" fill="{ink}">{escape(words)}</text>'


def _apart(names: Sequence[tuple[float, str, str]], lowest: float) -> list[tuple[float, str, str]]:
    """Names moved so that none stands on another, nor below ``lowest``."""
    found: list[tuple[float, str, str]] = []
    for y, name, ink in sorted(names):
        found.append((max(y, found[-1][0] + NAME_ROW) if found else y, name, ink))
    free = lowest
    for place in reversed(range(len(found))):
        y, name, ink = found[place]
        found[place] = (min(y, free), name, ink)
        free = found[place][0] - NAME_ROW
    return found
