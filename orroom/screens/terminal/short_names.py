"""Names of zones in fewer columns: left and right stay whole, and no two of a plan become alike."""

from collections import Counter
from collections.abc import Mapping, Sequence
from functools import lru_cache
from typing import Final

from rich.cells import cell_len

from orroom.screens.terminal.painting import clipped

#: What is never cut: half of a scalp is the wrong one. The longest of them is what its pair has room for.
SIDES: Final = ("left", "right")
LONGEST_SIDE: Final = 1 + max(map(len, SIDES))
#: Letters that each of several words keeps: with fewer, the last word is left out.
ENOUGH: Final = 3


@lru_cache(256)
def short_names(names: tuple[str, ...], width: int) -> Mapping[str, str]:
    """Each of a plan's names in at most ``width`` columns; the two of a pair are cut alike.

    Those that would become the same go without the words that they share. Two may still be the same where
    ``width`` has no room for what they differ in.
    """
    heads = Counter(_parted(name)[0] for name in names if cell_len(name) > width)
    found = {name: short_name(name, width, alike=_parted(name)[0] in heads) for name in names}
    times = Counter(found.values())
    same = [name for name in names if times[found[name]] > 1]
    if not same:
        return found
    shared = set.intersection(*(set(_words(name)) for name in same)) - set(SIDES)
    parted = {name: " ".join(word for word in _words(name) if word not in shared) for name in same}
    apart = found | {name: short_name(words or name, width) for name, words in parted.items()}
    return apart if len(set(apart.values())) > len(times) else found


def short_name(name: str, width: int, *, alike: bool = False) -> str:
    """A name in at most ``width`` columns: ``temp. right``, ``sec. line left``.

    Its longest words are cut, each marked with a point; with too few letters for each, the last are left out.
    The side is always whole, if only it has room. ``alike``: it is cut as the other side's is.
    """
    if cell_len(name) <= width and not alike:
        return name
    head, side = _parted(name)
    if not side:
        return _cut(_words(name), width) or clipped(name, width)
    room = width - LONGEST_SIDE
    short = _cut(head.split(), room if room > 0 else width - 1 - len(side))
    found = f"{short} {side}" if short else side
    return found if len(found) <= width or short else clipped(side, width)


def _words(name: str) -> list[str]:
    return name.replace(",", " ").split()


def _parted(name: str) -> tuple[str, str]:
    """All words but left or right, and that one."""
    words = _words(name)
    side = next((word for word in reversed(words) if word.casefold() in SIDES), "")
    return " ".join(word for word in words if word != side), side


def _cut(words: Sequence[str], width: int) -> str | None:
    """The words, a letter less of the longest again and again, then without the last; ``None`` if never."""
    for kept in range(len(words), 0, -1):
        letters = [len(word) for word in words[:kept]]
        least = ENOUGH if kept > 1 else 1
        while True:
            shown = " ".join(_first(word, count) for word, count in zip(words, letters, strict=False))
            if cell_len(shown) <= width:
                return shown
            longer = [
                place for place in range(kept) if letters[place] > least and len(words[place]) > least + 1
            ]
            if not longer:
                break
            letters[max(longer, key=lambda place: letters[place])] -= 1
    return None


def _first(word: str, count: int) -> str:
    """The first letters of a word and a point; all of it where that is no longer."""
    return word if count >= len(word) - 1 else f"{word[:count].rstrip('-.')}."
