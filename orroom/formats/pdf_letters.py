"""Which letters the fonts of a printed summary have, and what is printed where they have none."""

import re
from typing import Final

from orroom.case.terms import visible
from orroom.summary.summary import Summary

#: What the two fonts of the template have letters for, first and last code points, row by row: Latin, Greek,
#: Cyrillic; Armenian, Hebrew; Arabic; Persian; Georgian, Vietnamese; punctuation, money; arrows and signs.
#: No combining marks: few letters take every mark, and what composes is one character in a record (NFC).
PRINTED: Final = (
    *((0x20, 0x2DF), (0x386, 0x386), (0x388, 0x3CE), (0x400, 0x45F), (0x490, 0x4C4), (0x4D0, 0x4F9)),
    *((0x531, 0x55F), (0x561, 0x587), (0x5BE, 0x5BE), (0x5D0, 0x5EA), (0x5F3, 0x5F4)),
    *((0x60C, 0x60C), (0x61B, 0x61B), (0x61F, 0x61F), (0x621, 0x63A), (0x640, 0x64A), (0x660, 0x66D)),
    *((0x67E, 0x67E), (0x686, 0x686), (0x698, 0x698), (0x6A9, 0x6A9), (0x6AF, 0x6AF), (0x6CC, 0x6CC)),
    *((0x6F0, 0x6F9), (0x10D0, 0x10FC), (0x1E00, 0x1E9B), (0x1EA0, 0x1EF9)),
    *((0x2002, 0x2037), (0x2039, 0x203E), (0x20A0, 0x20B5), (0x20B8, 0x20BA), (0x20BD, 0x20BD)),
    *((0x2122, 0x2122), (0x2190, 0x2220), (0x2241, 0x2269), (0x25A0, 0x25FF), (0xFFFD, 0xFFFD)),
)
_NOT_PRINTED: Final = re.compile("[^\n" + "".join(f"{chr(low)}-{chr(high)}" for low, high in PRINTED) + "]+")


def spelled(text: str) -> str:
    """A text with what the fonts have no letters for as numbers: ``‹U+4E2D U+6587›``."""
    return _NOT_PRINTED.sub(
        lambda found: f"‹{' '.join(f'U+{ord(each):04X}' for each in found.group())}›", text
    )


def in_known_letters(summary: Summary) -> Summary:
    """The summary ``spelled``.

    It is itself if it has no such characters. Done before anything is drawn, so that charts leave room.
    """
    text = visible(summary.model_dump_json())
    known = spelled(text)
    return summary if known == text else Summary.model_validate_json(known)
