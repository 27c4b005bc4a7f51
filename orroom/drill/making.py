"""The sheet of a kind, a level and a seed: the same on every machine and with every version of Python."""

from typing import Final

from orroom.drill.count_sheet import count_lines
from orroom.drill.cutting_sheet import cutting_lines
from orroom.drill.drawing import Draw
from orroom.drill.placing_sheet import placing_lines
from orroom.drill.sheet import Kind, Sheet

#: From level 2 on the first wetting is due so many seconds after the drill's case was made, by kind.
FIRST_PROMPT: Final[dict[Kind, int]] = {"cutting": 40, "placing": 40, "count": 45}
_LINES: Final = {"cutting": cutting_lines, "placing": placing_lines, "count": count_lines}


def sheet_of(kind: Kind, level: int, seed: int) -> Sheet:
    """The sheet. Raises ``KeyError`` for a kind or level that there is none of."""
    lines = _LINES[kind](level, Draw(f"{kind} {level} {seed}"))
    return Sheet(kind, level, seed, tuple(lines), FIRST_PROMPT[kind] if level > 1 else None)
