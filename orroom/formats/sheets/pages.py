"""How much of a sheet goes on one page."""

from collections.abc import Sequence
from typing import Final, TypeVar

from orroom.formats.drawing import MM

T = TypeVar("T")
#: So high may a drawing be that it has its heading on the same page.
HIGHEST: Final = 225 * MM


def in_pages(things: Sequence[T], most: int) -> list[Sequence[T]]:
    """Things in their order, at most this many to a page."""
    return [things[first : first + most] for first in range(0, len(things), most)]
