"""A drawing: pieces of SVG and words, for a page of HTML with its words, for print without them."""

import unicodedata
from collections.abc import Sequence
from html import escape
from typing import Final, Literal

from msgspec import Struct

from orroom.formats.blocks import plain

#: How broad a drawing is that is as broad as the page.
WIDTH: Final = 720
#: A millimetre on an A4 page, whose text is 178 mm broad.
MM: Final = WIDTH / 178
#: Size of the words; on an A4 page, 12 are 8.4 pt.
FONT: Final = 12
#: What words and strokes may be: their colour on white, by a name that a page may give another colour.
Tone = Literal["ink", "faint", "accent", "rule"]
TONES: Final[dict[Tone, str]] = {"ink": "#000000", "faint": "#595959", "accent": "#983200", "rule": "#D8D8D8"}


class Words(Struct, frozen=True):
    """Words of a drawing: where they begin, or have their middle or end, and how they look."""

    x: float
    y: float
    words: str
    anchor: Literal["start", "middle", "end"] = "start"
    bold: bool = False
    on_white: bool = False  #: they stand on lines
    size: float = FONT
    tone: Tone = "ink"


class Drawing(Struct, frozen=True):
    """A chart or a map: pieces of SVG and words, from the hindmost on, ``width`` broad.

    ``title`` is what is said to those who cannot see it: what it is, and its data unless a table has them.
    """

    title: str
    height: float
    parts: Sequence[str | Words]
    width: float = WIDTH

    @property
    def words(self) -> list[Words]:
        """Its words alone, for a page that sets words itself."""
        return [each for each in self.parts if isinstance(each, Words)]

    def svg(self, *, with_words: bool = True) -> str:
        """The drawing as SVG."""
        parts = [_worded(each) if isinstance(each, Words) else each for each in self.parts]
        if not with_words:
            parts = [each for each in self.parts if isinstance(each, str)]
        title = escape(plain(self.title))
        room = f"0 0 {self.width:.0f} {self.height:.0f}"
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{room}" role="img" '
            f'aria-label="{title}" font-family="sans-serif" font-size="{FONT}">'
            f"<title>{title}</title>{''.join(parts)}</svg>"
        )


def _worded(each: Words) -> str:
    look = ' font-weight="bold"' if each.bold else ""
    if each.tone != "ink":
        look += f' class="{each.tone}" fill="{TONES[each.tone]}"'
    if each.size != FONT:
        look += f' font-size="{each.size:g}"'
    if each.on_white:
        look += ' style="paint-order:stroke" stroke="#FFFFFF" stroke-width="4" stroke-linejoin="round"'
    return (
        f'<text x="{each.x:.1f}" y="{each.y:.1f}" text-anchor="{each.anchor}"{look}>'
        f"{escape(each.words)}</text>"
    )


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
    tone: Tone = "ink",
) -> Words:
    """Words on the line ``y``, shortened to the room there is."""
    fitting = shortened(plain(words), room * FONT / size)
    return Words(round(x, 1), round(y, 1), fitting, anchor, bold=bold, size=size, tone=tone)


def fitting(words: str, size: float, room: float) -> float:
    """The size at which words that are never shortened fit: a case code, a key, counts."""
    return min(size, int(room / breadth(words) * FONT))


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
