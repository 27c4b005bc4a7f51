"""What an archive keeps of a whole case: one row of figures, and nothing that names anybody."""

from typing import Final

from orroom.archive.wrong_finish import LOOKED_AT
from orroom.case.habits import SHARES
from orroom.case.terms import SIZE_KEYS
from orroom.figures.wording import moment
from orroom.summary.summary import Summary

#: By work, the columns of what the forecasts of its finish had wrong.
WRONG_FINISH: Final = {
    work: tuple(f"{work}_wrong_at_{round(100 * share)}" for share in SHARES) for work in LOOKED_AT
}
COLUMNS: Final = {
    "case_id": "VARCHAR",
    "seal_mark": "VARCHAR",  # shows whether the record has grown since
    "month": "DATE",  # its first day, where the case was
    "day": "DATE",  # null unless dates are kept
    "entries": "INTEGER",
    "cut": "INTEGER",
    "usable": "INTEGER",
    "placed": "INTEGER",
    "discarded": "INTEGER",
    "missing": "INTEGER",
    "hairs_placed": "DOUBLE",
    "hairs_per_graft_placed": "DOUBLE",
    **{f"cut_{size.lower()}": "INTEGER" for size in SIZE_KEYS},  # null: no such size in the plan
    **{f"placed_{size.lower()}": "INTEGER" for size in SIZE_KEYS},
    **{
        f"{work}_{what}": "DOUBLE"
        for work in ("cutting", "sites", "placing")
        for what in ("done", "person_hours")
    },
    "out_grafts": "INTEGER",  # placed or waiting, their time out of the body known
    "out_median_low_min": "DOUBLE",
    "out_median_high_min": "DOUBLE",
    "out_over_4_h_low": "DOUBLE",  # shares
    "out_over_4_h_high": "DOUBLE",
    "transected": "INTEGER",
    "transected_of": "INTEGER",
    "final_count_differences": "INTEGER",  # groups; null without a final count
    "care_due": "INTEGER",  # rounds of the plan but reminders; null where none is planned
    "care_on_time": "INTEGER",
    "care_missed": "INTEGER",
    # What the forecasts of the finish had wrong, at nine shares of the work (wrong_finish.py); no measure.
    **{column: "DOUBLE" for columns in WRONG_FINISH.values() for column in columns},
}

#: Columns by their names in earlier archives.
EARLIER_NAMES: Final = {"seal_mark": "head_mark"}

#: What the first archives have not.
CAME_LATER: Final = (
    "care_due",
    "care_on_time",
    "care_missed",
    *(column for columns in WRONG_FINISH.values() for column in columns),
)

_WORKS: Final = {"cutting": "cutting", "making sites": "sites", "placing": "placing"}


def case_row(told: Summary, case_id: str, seal_mark: str, *, keep_dates: bool) -> dict[str, object]:
    """The row of a case."""
    opened = moment(told.opened, told.utc_offset_minutes)
    whole = told.in_all
    of_grafts = [each for each in told.care if each.kind != "reminder"]
    cutting = next((each for each in told.quality if each.measure == "transected in cutting"), None)
    return {
        **dict.fromkeys(COLUMNS),
        "case_id": case_id,
        "seal_mark": seal_mark,
        "month": f"{opened:%Y-%m}-01",
        "day": f"{opened:%Y-%m-%d}" if keep_dates else None,
        "entries": told.entries,
        "cut": whole.cut_in_all,
        "usable": whole.dish + whole.with_placers + whole.placed + whole.left_at_end,
        "placed": whole.placed,
        "discarded": whole.discarded,
        "missing": whole.not_found,
        "hairs_placed": whole.hairs_placed,
        "hairs_per_graft_placed": whole.hairs_per_graft_placed,
        **{f"cut_{each.size.lower()}": each.cut_in_all for each in told.sizes},
        **{f"placed_{each.size.lower()}": each.placed for each in told.sizes},
        **{f"{_WORKS[each.work]}_done": each.done for each in told.pace},
        **{f"{_WORKS[each.work]}_person_hours": each.person_hours for each in told.pace},
        **_out_of_body(told),
        "transected": cutting and cutting.count,
        "transected_of": cutting and cutting.of,
        "final_count_differences": told.final_count and told.final_count.differences,
        **{
            f"care_{what}": sum(getattr(each, what) for each in of_grafts)
            for what in ("due", "on_time", "missed")
            if of_grafts
        },
    }


def _out_of_body(told: Summary) -> dict[str, object]:
    """Of all harvests together, the summary's last; nothing where some time out is not known."""
    if not told.out_of_body or any(harvest.out_unknown for harvest in told.harvests):
        return {}
    out = told.out_of_body[-1]
    return {
        "out_grafts": out.placed_low + out.waiting_low,
        "out_median_low_min": _minutes(out.median_low_ms),
        "out_median_high_min": _minutes(out.median_high_ms),
        "out_over_4_h_low": out.over_4_h_low,
        "out_over_4_h_high": out.over_4_h_high,
    }


def _minutes(milliseconds: int | None) -> float | None:
    return None if milliseconds is None else milliseconds / 60_000
