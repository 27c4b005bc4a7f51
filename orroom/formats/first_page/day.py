"""The bar of the day: each work, breaks and care over the case's clock, with their times and counts."""

from collections.abc import Iterator, Sequence
from typing import Final

from msgspec.structs import replace

from orroom.figures.wording import moment, which_day
from orroom.formats.drawing import (
    FONT,
    TONES,
    WIDTH,
    Drawing,
    Tone,
    Words,
    breadth,
    fitting,
    shortened,
    written,
)
from orroom.formats.first_page.day_rows import Mark, Row, Stretch, rows
from orroom.formats.sections.wording import clock, summary_times
from orroom.summary.summary import Summary

HOUR_MS: Final = 3_600_000
#: Hours are marked one by one as long as there are no more than this.
MOST_HOURS: Final = 13
#: Rows of breaks that are drawn; the rest is counted.
BREAK_ROWS: Final = 3
SMALL: Final = 10.5
#: How broad the drawing is on a telephone.
NARROW: Final = 350
FILLS: Final = {"harvest": "#7A7A7A", "work": "#BDBDBD", "placing": "#000000"}
TRIANGLE: Final = "m0 -8l5 9h-10z"
CROSS: Final = "m-3.5 -6.5l7 7m0 -7l-7 7"


def day(summary: Summary, width: float = WIDTH) -> Drawing | None:
    """The day, on a broad page or on a telephone; ``None`` before anything was done."""
    shown = rows(summary)
    if not any(row.stretches or row.marks for row in shown):
        return None
    return _Day(summary, shown, width).drawn()


class _Day:
    """The drawing under way: from ``left`` to ``right`` goes the clock, ``y`` is how far down it is."""

    def __init__(self, summary: Summary, shown: Sequence[Row], width: float) -> None:
        self.summary, self.rows, self.width = summary, shown, width
        self.narrow = width < WIDTH
        self.left, self.right = (0.0, width) if self.narrow else (145.0, 515.0)
        acts = [at for row in shown for each in row.stretches for at in each[:2]]
        acts += [mark.at_ms for row in shown for mark in row.marks]
        offset_ms = summary.utc_offset_minutes * 60_000
        self.start_ms = (min(acts) + offset_ms) // HOUR_MS * HOUR_MS - offset_ms
        whole = -(-(max(acts) - self.start_ms) // HOUR_MS)
        self.hours = max(1, whole)
        self.parts: list[str | Words] = []
        self.y = 34.0

    def x(self, at_ms: int) -> float:
        return self.left + (at_ms - self.start_ms) / (self.hours * HOUR_MS) * (self.right - self.left)

    def drawn(self) -> Drawing:
        for row in self.rows:
            self._row(row)
        behind = [*self._hours(), *self._grafts()]
        said = "; ".join(row.said for row in self.rows)
        return Drawing(f"The day. {said}.", self.y + 4, [*behind, *self.parts], self.width)

    def _words(self, x: float, y: float, words: str, tone: Tone = "ink", **look: object) -> Words:
        """Words; on a telephone lines go through them, so they have a ground of their own."""
        made = written(x, y, words, tone=tone, **look)  # type: ignore[arg-type]
        return replace(made, on_white=self.narrow)

    def _hours(self) -> Iterator[str | Words]:
        """A faint line for each hour, and midnight, with the day that begins."""
        step = next(each for each in (1, 2, 3, 4, 6, 12, 24, 48, 10_000) if self.hours / each <= MOST_HOURS)
        if self.narrow and self.hours > MOST_HOURS // 2:
            step *= 2
        times = summary_times(self.summary)
        for hour in range(self.hours + 1):
            at_ms = self.start_ms + hour * HOUR_MS
            x, local = self.x(at_ms), moment(at_ms, times.offset_minutes)
            if hour and local.hour == 0:
                yield _line(f"M{x:.1f} 32V{self.y:.1f}", "faint", ' stroke-dasharray="4 3"')
                begun = which_day(at_ms, times).strip()
                yield self._words(x, 28, begun, "faint", size=SMALL, anchor="middle", bold=True)
            elif hour % step == 0:
                yield _line(f"M{x:.1f} 32V{self.y:.1f}", "rule")
                if x <= self.right - 14 or not self.narrow:
                    anchor = "start" if x < 14 else "middle"
                    yield self._words(x, 28, f"{local:%H:%M}", "faint", size=SMALL, anchor=anchor)

    def _grafts(self) -> Iterator[str | Words]:
        """The first and the last graft placed: the only black lines through all rows."""
        span = next((each for each in self.summary.times if each.work == "placing"), None)
        if span is None:
            return
        last = "last" if self.summary.signed_off or not self.summary.in_all.owed else "latest"
        ends = ((span.first, "first"), (span.last, last))
        apart = self.x(span.last) - self.x(span.first)
        for number, (at_ms, which) in enumerate(ends):
            x = self.x(at_ms)
            yield _line(f"M{x:.1f} 14V{self.y:.1f}", "ink")
            words = f"{which} graft {clock(self.summary, at_ms)}"
            anchor = ("end", "start")[number] if apart < breadth(words) + 12 and not self.narrow else "middle"
            if self.narrow:
                x, anchor = ((0.0, "start"), (self.width, "end"))[number]
            elif anchor == "middle":
                x = min(max(x, breadth(words) / 2), self.width - breadth(words) / 2)
            else:
                x += (-4, 4)[number]  # they are next to each other
            yield self._words(x, 11, words, size=11.5, anchor=anchor, bold=True)

    def _row(self, row: Row) -> None:
        packed = _packed(row.stretches) if row.fill is None and not row.marks else []
        high = 19.0 if not row.marks else 25.0
        if packed:
            high = max(1, min(len(packed), BREAK_ROWS)) * 13 + 6
        if self.narrow:
            self._said_above(row)
        down = self.y + high - 6  # where the row's things rest
        if not self.narrow:
            self._said_beside(row, self.y + 12 if not row.marks else down, len(packed) - BREAK_ROWS)
        if row.marks:
            self._care(row, down)
        elif row.fill:
            for each in row.stretches:
                wide = max(1.5, self.x(each.until_ms) - self.x(each.since_ms))
                self.parts.append(_rect(self.x(each.since_ms), self.y + 1, wide, 12, row.fill))
        for number, line in enumerate(packed[:BREAK_ROWS]):
            for each in line:
                self._break(each, self.y + 1 + number * 13)
        self.y += high

    def _said_above(self, row: Row) -> None:
        said = "; ".join(filter(None, (row.times, row.count)))
        end = self.width
        if row.wrong:
            self.parts.append(
                self._words(end, self.y + 12, row.wrong, "accent", size=11, bold=True, anchor="end")
            )
            end -= breadth(row.wrong) * 11 / FONT * 1.15 + 8
        self.parts.append(self._words(end, self.y + 12, said, size=11, anchor="end"))
        room = end - breadth(said) * 11 / FONT - 10
        self.parts.append(self._words(0, self.y + 12, shortened(row.name, room)))
        self.y += 16

    def _said_beside(self, row: Row, y: float, left_out: int) -> None:
        room = self.left - 8
        size = max(10.0, fitting(row.name, FONT, room))
        self.parts.append(self._words(0, y, row.name, size=size, room=room))
        self.parts.append(self._words(530, y, row.times, size=SMALL))
        count = row.count + (f", {left_out} rows not drawn" if left_out > 0 else "")
        tone: Tone = "accent" if row.wrong else "ink"
        self.parts.append(
            self._words(
                self.width, y, row.wrong or count, tone, size=SMALL, anchor="end", bold=bool(row.wrong)
            )
        )

    def _break(self, each: Stretch, y: float) -> None:
        x, wide = self.x(each.since_ms), max(2.0, self.x(each.until_ms) - self.x(each.since_ms))
        self.parts.append(
            f'<rect class="card" x="{x:.1f}" y="{y:.1f}" width="{wide:.1f}" height="11" fill="#FFFFFF" '
            'stroke="#000000" stroke-width="0.7"/>'
        )
        if breadth(each.who) * 9 / FONT + 2 <= wide:
            self.parts.append(self._words(x + wide / 2, y + 8.7, each.who, size=9, anchor="middle"))

    def _care(self, row: Row, y: float) -> None:
        """Marks on a line; words over those that were wrong, as far as they do not meet."""
        self.parts.append(_line(f"M{self.left:.1f} {y:.1f}H{self.right:.1f}", "faint", ' stroke-width="0.6"'))
        for each in row.stretches:
            x, until = self.x(each.since_ms), min(self.x(each.until_ms), self.right)
            self.parts.append(_rect(x, y - 3, max(2.0, until - x), 3, "work"))
        free = self.left
        for mark in row.marks:
            x = self.x(mark.at_ms)
            self.parts.append(_mark(mark, x, y))
            room = breadth(mark.words) * SMALL / FONT
            begins = min(x + 7, self.right - room)
            if mark.words and begins >= free:
                words = replace(
                    self._words(begins, y - 9, mark.words, "accent", size=SMALL, bold=True), on_white=True
                )
                self.parts.append(words)
                free = begins + room + 4


def _mark(mark: Mark, x: float, y: float) -> str:
    if mark.how == "given":
        return _line(f"M{x:.1f} {y:.1f}v-7", "ink", ' stroke-width="1.1"')
    if mark.how == "missed":
        return _line(f"M{x:.1f} {y:.1f}{CROSS}", "accent", ' stroke-width="1.6"')
    return f'<path class="accent" d="M{x:.1f} {y:.1f}{TRIANGLE}" fill="{TONES["accent"]}"/>'


def _line(path: str, tone: Tone, look: str = "") -> str:
    return f'<path class="{tone}-line" d="{path}" fill="none" stroke="{TONES[tone]}"{look}/>'


def _rect(x: float, y: float, wide: float, high: float, fill: str) -> str:
    return (
        f'<rect class="{fill}" x="{x:.1f}" y="{y:.1f}" width="{wide:.1f}" height="{high:.1f}" '
        f'fill="{FILLS[fill]}"/>'
    )


def _packed(stretches: Sequence[Stretch]) -> list[list[Stretch]]:
    """Stretches in rows in which none lies on another."""
    lines: list[list[Stretch]] = []
    for each in sorted(stretches):
        line = next((line for line in lines if line[-1].until_ms <= each.since_ms), None)
        if line is None:
            lines.append([each])
        else:
            line.append(each)
    return lines
