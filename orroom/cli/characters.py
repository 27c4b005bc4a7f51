"""Output that is not UTF-8 gets a likeness of the characters it lacks, one for one, and it is said once."""

import codecs
import sys
from contextlib import suppress
from io import TextIOWrapper
from typing import Final

#: Each as wide as the character it replaces, so that screens and tables keep their columns.
LIKENESS: Final = str.maketrans(
    "█▇▆▅▄▃▂▁▌░─–—−…×·•²³°→←↑↓▸▶◂›‹●○◉◷✗≠≤±‖▲↺⌫✎◆◇√Σπ■┃▼▒▓▚",
    "#######_|.----~x.*23'><^v>><><*oOoxX<~|^@<!+$vSp#|%:&+",
)
_NAME: Final = "orroom"
#: Whether a character was replaced since the output was prepared.
_replaced: list[str] = []


def prepare() -> None:
    """From here on nothing that is written to the standard streams can fail for its characters."""
    _replaced.clear()
    codecs.register_error(_NAME, _likeness)
    for stream in (sys.stdout, sys.stderr, sys.__stderr__):
        if isinstance(stream, TextIOWrapper):
            with suppress(ValueError):  # closed
                stream.reconfigure(errors=_NAME)


def what_was_replaced() -> str:
    """A sentence about the characters that were replaced, empty if none was."""
    if not _replaced:
        return ""
    return (
        f"This terminal or file uses {_replaced[0]}, not UTF-8: characters it lacks were replaced. "
        "A UTF-8 locale shows them, for example LC_ALL=C.UTF-8."
    )


def _likeness(wrong: UnicodeError) -> tuple[str, int]:
    if not isinstance(wrong, UnicodeEncodeError):
        raise wrong
    if codecs.lookup(wrong.encoding).name != "utf-8":  # else half a character of a file name
        _replaced.append(wrong.encoding)
    found = wrong.object[wrong.start : wrong.end].translate(LIKENESS)
    return found.encode("ascii", "replace").decode(), wrong.end
