"""A cutting drill's lines: sizes as grafts are sorted, with what goes wrong in between."""

from typing import Final

from orroom.case.terms import SIZE_NAMES
from orroom.drill.drawing import Draw
from orroom.drill.sheet import Fault, Item, Line

#: How often each size comes. Common practice, no source.
SIZES: Final = {"1": 3, "2": 4, "3": 2, "M": 1}
#: By level: how many plain lines, and what is built in.
LEVELS: Final[dict[int, tuple[int, tuple[Fault, ...]]]] = {
    1: (24, ("dropped graft", "undo")),
    2: (30, ("dropped graft", "undo", "wrong size", "held key")),
    3: (36, ("dropped graft", "undo", "wrong size", "held key", "new reader", "undo", "dropped graft")),
}


def cutting_lines(level: int, draw: Draw) -> list[Line]:
    """The lines of a level."""
    plain, faults = LEVELS[level]
    at = dict(zip(draw.places(len(faults), plain, 3), draw.shuffled(faults), strict=True))
    lines: list[Line] = []
    before: list[str] = []  # the sizes of the grafts cut so far
    barred = ""  # so that nobody can say which of two alike was set right
    for place in range(plain):
        size = _size(draw, barred)
        barred = ""
        match at.get(place):
            case "dropped graft":
                says = f"a {size_in_words(size)}, but it fell on the floor: discard it (dropped)"
                asks = Item("spoilt", size, reason="dropped")
                lines.append(Line(says, (asks,), fault="dropped graft"))
                continue
            case "undo":
                wrong = _size(draw, before[-1])
                lines.append(Line(size_in_words(wrong), struck=Item("cut", wrong)))
                lines.append(Line("no, there was no graft: undo it", fault="undo"))
                barred = wrong
                continue
            case "wrong size":
                wrong = _size(draw, size)
                lines.append(Line(size_in_words(wrong), struck=Item("cut", wrong)))
                right = size_in_words(size)
                says = f"that {size_in_words(wrong)} is a {right}: undo it, then tap the {right}"
                lines.append(Line(says, (Item("cut", size),), fault="wrong size"))
            case "held key":
                says = f"{size_in_words(size)}: keep its key pressed for two seconds; it is one graft"
                lines.append(Line(says, (Item("cut", size),), fault="held key"))
            case "new reader":
                last = ", ".join(map(size_in_words, before[-2:]))
                says = f"(somebody else reads on) the last two were {last}: both are entered"
                lines.append(Line(says, fault="new reader"))
                lines.append(Line(size_in_words(size), (Item("cut", size),)))
            case _:
                lines.append(Line(size_in_words(size), (Item("cut", size),)))
        before.append(size)
    return lines


def _size(draw: Draw, but: str) -> str:
    """A size, another than ``but``."""
    return draw.weighted({size: weight for size, weight in SIZES.items() if size != but})


def size_in_words(size: str) -> str:
    """A size as it is called out."""
    return "multi" if size == "M" else SIZE_NAMES[size]
