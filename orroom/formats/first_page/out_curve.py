"""The share of grafts still out of the body by time, with the surgeon's limit and what is beyond it."""

from collections.abc import Iterator, Sequence
from typing import Final

from orroom.figures.wording import hours_minutes
from orroom.formats.drawing import TONES, Drawing, Words, written
from orroom.summary.summary import Summary

HOUR_MS: Final = 3_600_000
#: As broad as the right column; from where to where the hours go, and the share.
BREADTH: Final = 276.0
LEFT, TOP, HIGH = 42.0, 20.0, 62.0
#: Lines differ in dash where there are several harvests.
DASHES: Final = ("", "6 3", "2 2.5", "8 3 2 3")


def out_curve(summary: Summary) -> Drawing | None:
    """The drawing; ``None`` while nothing is placed whose time out is known."""
    labels = {each.harvest: each.label for each in summary.harvests}
    curves: dict[str, list[tuple[float, float]]] = {}
    for each in summary.waiting_curve:
        name = labels.get(each.harvest, each.harvest)
        curves.setdefault(name, []).append(((each.out_ms or 0) / HOUR_MS, each.share or 0.0))
    if not any(share < 1 for points in curves.values() for _, share in points):
        return None
    limit_ms = summary.out_of_body_limit_ms
    limit_h = None if limit_ms is None else limit_ms / HOUR_MS
    last = max([1.0, *(out for points in curves.values() for out, _ in points), limit_h or 0]) * 1.04
    parts = [*_drawn(curves, limit_h, last)]
    said = "Share of grafts still out of the body, by hours out of the body"
    if limit_ms is not None:
        parts += _limit(hours_minutes(limit_ms), _x(limit_h or 0, last))
        said += f"; the limit is {hours_minutes(limit_ms)}"
    return Drawing(f"{said}. The table below has its figures.", TOP + HIGH + 18, parts, BREADTH)


def _x(hours: float, last: float) -> float:
    return LEFT + hours / last * (BREADTH - LEFT - 6)


def _y(share: float) -> float:
    return TOP + (1 - share) * HIGH


def _drawn(
    curves: dict[str, list[tuple[float, float]]], limit_h: float | None, last: float
) -> Iterator[str | Words]:
    for share in (0.0, 0.5, 1.0):
        y = _y(share)
        yield (
            f'<path class="rule-line" d="M{LEFT:.1f} {y:.1f}H{BREADTH - 6:.1f}" fill="none" '
            f'stroke="{TONES["rule"]}"/>'
        )
        yield written(LEFT - 5, y + 4, f"{share:.0%}".replace("%", " %"), 10.5, anchor="end", tone="faint")
    step = next(each for each in (1, 2, 4, 6, 12, 24, 48, 1000) if last / each <= 8)
    for hour in range(0, int(last) + 1, step):
        words = f"{hour} h" if hour == 0 else f"{hour}"
        yield written(_x(hour, last), TOP + HIGH + 14, words, 10.5, anchor="middle", tone="faint")
    if limit_h is not None:
        for points in curves.values():
            yield from _beyond(points, limit_h, last)
    for number, (name, points) in enumerate(curves.items()):
        if len(curves) > 1:
            yield _named(name, points, last)
        path = "".join(_steps(points, last))
        dash = DASHES[number % len(DASHES)]
        dashes = f' stroke-dasharray="{dash}"' if dash else ""
        yield f'<path class="ink-line" d="{path}" fill="none" stroke="#000000" stroke-width="1.6"{dashes}/>'


def _named(name: str, points: Sequence[tuple[float, float]], last: float) -> Words:
    """The name of a harvest where a quarter of it is placed."""
    out, share = next((each for each in points if each[1] <= 0.75), points[-1])
    x = _x(out, last)
    left = x > BREADTH * 0.6
    return written(
        x - 4 if left else x + 4, _y(share) - 4, name, 10.5, anchor="end" if left else "start", tone="faint"
    )


def _steps(points: Sequence[tuple[float, float]], last: float) -> Iterator[str]:
    for number, (out, share) in enumerate(points):
        at = f"{_x(out, last):.1f}"
        yield f"M{at} {_y(share):.1f}" if number == 0 else f"H{at}V{_y(share):.1f}"


def _beyond(points: Sequence[tuple[float, float]], limit_h: float, last: float) -> Iterator[str]:
    """What is under the curve beyond the limit."""
    before = [share for out, share in points if out <= limit_h]
    after = [(out, share) for out, share in points if out > limit_h]
    if not before or not after:
        return
    path = f"M{_x(limit_h, last):.1f} {_y(0):.1f}V{_y(before[-1]):.1f}"
    path += "".join(f"H{_x(out, last):.1f}V{_y(share):.1f}" for out, share in after)
    yield f'<path class="beyond" d="{path}V{_y(0):.1f}z" fill="#DDB9A6"/>'


def _limit(words: str, x: float) -> Iterator[str | Words]:
    yield (
        f'<path class="accent-line" d="M{x:.1f} {TOP - 8:.1f}V{TOP + HIGH:.1f}" fill="none" '
        f'stroke="{TONES["accent"]}" stroke-width="1.5"/>'
    )
    anchor = "end" if x > BREADTH * 0.7 else "start"
    at = x - 4 if anchor == "end" else x + 4
    yield written(at, TOP - 6, f"limit {words}", 11, bold=True, tone="accent", anchor=anchor)  # type: ignore[arg-type]
