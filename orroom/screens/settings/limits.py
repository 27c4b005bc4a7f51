"""The surgeon's limits on the settings' pages, and how each is changed. It runs without a terminal."""

from functools import partial
from typing import Final, get_args

from orroom.case.plan import CareUntil
from orroom.screens.settings.sheet import Row, Sheet
from orroom.screens.terminal.asking import Choice, Dialogue, Number, Option

#: The limits: field, what it is called, unit, whether it takes decimals.
LIMITS: Final = (
    ("with_placers_seconds", "with the placers: prompt after", "s", False),
    ("with_placers_grace_seconds", "then overdue after", "s", False),
    ("dense_grafts_per_cm2", "remark on density above", "grafts/cm²", True),
    ("day_hours", "remark on a day longer than", "h", True),
)
CARE_UNTIL: Final[dict[CareUntil, str]] = {
    "last graft": "the last graft is placed, if none is owed",
    "end of work": "the end of the work",
}
UNTIL: Final = Choice(
    "Care rounds fall due until",
    tuple(Option(key, words, until) for key, (until, words) in zip("12", CARE_UNTIL.items(), strict=True)),
    means="The summary counts which care rounds fell due and were not given.",
)
SET_OR_NONE: Final = (Option("1", "set it", True), Option("2", "none", False))


def limit_rows(sheet: Sheet) -> tuple[Row, ...]:
    """A row for each limit."""
    limits = sheet.settings.limits
    rows = [
        sheet.row(
            name,
            f"{getattr(limits, field):g} {unit}",
            ("limits", field),
            Number(f"{name}:", unit, decimals=decimals, fault=sheet.fault_at("limits", field)),
        )
        for field, name, unit, decimals in LIMITS
    ]
    hours, tail = limits.out_of_body_hours, limits.slow_tail
    until = limits.care_until or get_args(CareUntil)[0]
    return (
        *rows,
        Row(
            "longest time out of the body",
            "none" if hours is None else f"{hours:g} h",
            sheet.has("limits", "out_of_body_hours"),
            partial(_time_out, sheet),
        ),
        sheet.row("care rounds fall due until", CARE_UNTIL[until], ("limits", "care_until"), UNTIL),
        Row(
            "slow tail in the forecast",
            "none" if tail is None else f"the last {tail.share:.0%} at {tail.pace:.0%} of the pace",
            sheet.has("limits", "slow_tail"),
            partial(_tail, sheet),
        ),
    )


def _time_out(sheet: Sheet) -> Dialogue:
    loc = ("limits", "out_of_body_hours")
    given = yield Choice(
        "Longest time out of the body:",
        SET_OR_NONE,
        means="The summary's first lines say when grafts were out of the body for longer.",
    )
    hours = (yield Number("Hours:", "h", decimals=True, fault=sheet.fault_at(*loc))) if given else None
    sheet.put(loc, hours)
    return None


def _tail(sheet: Sheet) -> Dialogue:
    loc = ("limits", "slow_tail")
    given = yield Choice(
        "Slow tail:",
        SET_OR_NONE,
        means="For a team that slows down at the end of the day; used in the forecast of the finish.",
    )
    tail = None
    if given:
        share = yield Number(
            "The last how many % of the grafts?",
            "%",
            fault=lambda n: sheet.fault(loc, {"share": n / 100, "pace": 1}),
        )
        pace = yield Number(
            "go at how many % of the pace before?",
            "%",
            fault=lambda n: sheet.fault(loc, {"share": share / 100, "pace": n / 100}),
        )
        tail = {"share": share / 100, "pace": pace / 100}
    sheet.put(loc, tail)
    return None
