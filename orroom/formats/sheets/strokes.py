"""Boxes, lines and words of a sheet's drawings, in units of ``svg.WIDTH`` to 178 mm."""

from collections.abc import Sequence
from typing import Final, Literal, TypeVar

from orroom.formats.blocks import plain
from orroom.formats.svg import FONT, WIDTH, Words, breadth, shortened

T = TypeVar("T")
MM: Final = WIDTH / 178
#: So high may a drawing be that it has its heading on the same page.
HIGHEST: Final = 225 * MM


def in_pages(things: Sequence[T], most: int) -> list[Sequence[T]]:
    """Things in their order, at most this many to a page."""
    return [things[first : first + most] for first in range(0, len(things), most)]


def box(x: float, y: float, wide: float, high: float, thick: float = 1, dashes: str = "") -> str:
    """An empty box."""
    dashed = f' stroke-dasharray="{dashes}"' if dashes else ""
    return (
        f'<rect x="{x:.1f}" y="{y:.1f}" width="{wide:.1f}" height="{high:.1f}" fill="none" '
        f'stroke="#000000" stroke-width="{thick:g}"{dashed}/>'
    )


def stroke(x: float, y: float, to_x: float, to_y: float, thick: float = 1) -> str:
    """A straight line."""
    return (
        f'<path d="M{x:.1f} {y:.1f}L{to_x:.1f} {to_y:.1f}" fill="none" stroke="#000000" '
        f'stroke-width="{thick:g}"/>'
    )


def written(
    x: float,
    y: float,
    words: str,
    size: float = FONT,
    *,
    room: float = WIDTH,
    anchor: Literal["start", "middle", "end"] = "start",
    bold: bool = False,
) -> Words:
    """Words on the line ``y``, shortened to the room there is."""
    fitting = shortened(plain(words), room * FONT / size)
    return Words(round(x, 1), round(y, 1), fitting, anchor, bold=bold, size=size)


def fitting(words: str, size: float, room: float) -> float:
    """The size at which words that are never shortened fit: a case code, a key, counts."""
    return min(size, int(room / breadth(words) * FONT))
