"""A trainee's curve: their drills, one a line, and whether the newest differ from those before."""

from collections.abc import Sequence
from textwrap import wrap
from typing import Final

from orroom.drill.own_file import Done
from orroom.drill.sheet import KINDS, Kind
from orroom.drill.times import Typical
from orroom.figures.shares import Proportion, proportion
from orroom.figures.wording import NO_DATA, decimal, percent, several

WIDTH: Final = 77
#: From this width on there is room for a picture of each share, this many columns of it, from this share on.
ROOM_FOR_PICTURE, PICTURE, FROM = 77, 15, 0.5
#: Narrower than this nothing can be read.
LEAST_WIDTH: Final = 20
#: So many of the newest drills are compared with those before. Common practice, no source.
NEWEST: Final = 3
FEW: Final = (
    f"From {NEWEST + 1} whole drills of a level on, the newest {NEWEST} are compared with the others."
)
#: Rows of one kind alone, and of each where all are shown: with its words it fits a terminal of 24 rows.
ROWS_ALONE, ROWS_OF_EACH = 16, 2


def curve_text(who: str, drills: Sequence[Done], kind: Kind | None = None, width: int = WIDTH) -> str:
    """The newest drills of one kind, or of each; the newest last."""
    shown = [each for each in ((kind,) if kind else KINDS) if any(done.kind == each for done in drills)]
    if not shown:
        what = f"{kind} drills" if kind else "drills"
        return f"{who}: no {what} yet. orroom drill {kind or 'cutting'} --who {who} begins one."
    rows = ROWS_ALONE if len(shown) == 1 else ROWS_OF_EACH
    parts = [
        _of_kind(who, each, [done for done in drills if done.kind == each], rows, width) for each in shown
    ]
    return "\n\n".join(parts)


def _of_kind(who: str, kind: Kind, drills: Sequence[Done], rows: int, width: int) -> str:
    newest = f", the newest {rows}" if len(drills) > rows else ""
    picture = width >= ROOM_FOR_PICTURE
    scale = f"{percent(FROM):<{PICTURE - 5}}100 %"
    head = f"  day        level sheet  as read  {scale}  range     pace    prompts"
    if not picture:
        head = " day         sheet as read  pace"
    lines = [f"{who}, {kind}: {several(len(drills), 'drill')}{newest}", head]
    lines += map(_row if picture else _narrow_row, drills[-rows:])
    width = max(width, LEAST_WIDTH)
    compared = _compared(drills) or (FEW if rows == ROWS_ALONE else "")
    return "\n".join([*lines, *wrap(compared, width)])


def _row(done: Done) -> str:
    prompts = _seconds(done.answer) if done.answer else "missed" if done.unanswered else NO_DATA
    last = prompts if done.left is None else f"left {done.left}"
    return (
        f"  {done.day} {done.level:>5} {done.seed:>5}  {_share(done.share):>7}  {_picture(done.share)}  "
        f"{_range(done.share):<8}  {_seconds(done.wait):<6}  {last}"
    )


def _narrow_row(done: Done) -> str:
    sheet, left = f"{done.level}/{done.seed}", "" if done.left is None else " left"
    return f" {done.day} {sheet:>6} {_share(done.share):>7}  {_seconds(done.wait)}{left}"


def _share(share: Proportion | None) -> str:
    return NO_DATA if share is None else percent(share.share)


def _range(share: Proportion | None) -> str:
    if share is None or share.wilson is None:
        return NO_DATA
    return f"{round(100 * share.wilson.low)}–{round(100 * share.wilson.high)} %"


def _seconds(time: Typical | None) -> str:
    return NO_DATA if time is None else f"{decimal(time.seconds)} s"


def _picture(share: Proportion | None) -> str:
    """A share as ``●`` in its range, ``─``, ``PICTURE`` columns wide; ``◂`` where it is below them."""
    if share is None or share.wilson is None:
        return " " * PICTURE

    def column(value: float) -> int:
        return round((max(value, FROM) - FROM) / (1 - FROM) * (PICTURE - 1))

    low, high = column(share.wilson.low), column(share.wilson.high)
    line = ["·" if not low <= each <= high else "─" for each in range(PICTURE)]
    line[column(share.share)] = "●" if share.share >= FROM else "◂"
    return "".join(line)


def _compared(drills: Sequence[Done]) -> str:
    """The newest of the level of the last one next to those of it before; nothing where there are too few."""
    whole = [each for each in drills if each.left is None]
    of_level = [each for each in whole if each.level == whole[-1].level] if whole else []
    newest, before = of_level[-NEWEST:], of_level[:-NEWEST]
    if not before:
        return ""
    one, other = _together(before), _together(newest)
    if one is None or other is None or one.wilson is None or other.wilson is None:
        return ""
    said = (
        f"Level {of_level[-1].level}: {percent(other.share)} as read in the newest {NEWEST} "
        f"({_range(other)}), {percent(one.share)} in {len(before)} before ({_range(one)})"
    )
    apart = other.wilson.low > one.wilson.high or one.wilson.low > other.wilson.high
    return f"{said}: {'more than chance' if apart else 'chance alone may do that'}."


def _together(drills: Sequence[Done]) -> Proportion | None:
    return proportion(sum(each.as_read for each in drills), sum(each.asked for each in drills))
