"""What an archive keeps of a whole case: one row of figures, and nothing that names anybody."""

from collections.abc import Sequence
from typing import Final

from orroom.archive.wrong_finish import LOOKED_AT, wrong_finish
from orroom.case.closing import NO_COUNT, open_at_sign_off
from orroom.case.habits import SHARES
from orroom.case.state import CaseState
from orroom.case.terms import DISCARD_REASONS, SIZE_KEYS
from orroom.figures.drying import drying
from orroom.figures.holding import harvest_ages
from orroom.figures.pace.work import end_of_work_ms, start_of_work_ms
from orroom.figures.punctuality import CarePunctuality, punctuality
from orroom.figures.quality import TRANSECTED, counted
from orroom.figures.wording import moment
from orroom.summary import final_count, grafts, losses, out_of_body
from orroom.summary.pace import pace

#: By work, the columns of what the forecasts of its finish had wrong.
WRONG_FINISH: Final = {
    work: tuple(f"{work}_wrong_at_{round(100 * share)}" for share in SHARES) for work in LOOKED_AT
}
#: By work, the columns of how many forecasts of its finish there were, and how many came true.
HELD: Final = {work: (f"{work}_forecasts", f"{work}_held", f"{work}_held_later") for work in LOOKED_AT}
#: Goes up with every column that comes later; rows before 2 do not say it.
VERSION: Final = 2
#: Their columns. Shares but for counts of grafts, rounds, readings and groups.
_SINCE_2: Final = {
    "row_version": "INTEGER",
    "added_as": "INTEGER",  # how many cases the archive had then: the order of those of one month
    "goes_on_mark": "VARCHAR",  # the seal_mark of the earlier case that this one goes on with
    "planned": "INTEGER",
    "work_min": "DOUBLE",  # from the first harvest, or the first work, to the end of the work
    "care_given": "INTEGER",
    "temperature_readings": "INTEGER",
    "temperature_out_of_band": "INTEGER",
    "with_placers_grafts": "INTEGER",  # that were ever with the placers; of them those over the limit
    "with_placers_over_low": "INTEGER",
    "with_placers_over_high": "INTEGER",
    "out_over_limit_low": "DOUBLE",  # of out_grafts; null without a limit of the surgeon's
    "out_over_limit_high": "DOUBLE",
    "discarded_of": "INTEGER",  # kept before, cut or pieces of divided ones
    **{f"discarded_{reason}": "INTEGER" for reason in DISCARD_REASONS},
    "closed_without_count": "INTEGER",  # 1 without valid counts by two people; null where nothing was cut
    "count_groups": "INTEGER",  # that both people counted; of them those in which both found the same
    "count_groups_agree": "INTEGER",
    **{column: "INTEGER" for columns in HELD.values() for column in columns},
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
    **_SINCE_2,
}

#: Columns by their names in earlier archives.
EARLIER_NAMES: Final = {"seal_mark": "head_mark"}

#: What the first archives have not.
CAME_LATER: Final = (
    "care_due",
    "care_on_time",
    "care_missed",
    *(column for columns in WRONG_FINISH.values() for column in columns),
    *_SINCE_2,
)

_WORKS: Final = {"cutting": "cutting", "making sites": "sites", "placing": "placing"}


def case_row(state: CaseState, case_id: str, seal_mark: str, *, keep_dates: bool) -> dict[str, object]:
    """The row of a case, of the same figures as its summary, without those that no column has."""
    opened = moment(state.log[0].stamp.at_ms, state.tally.utc_offset_minutes)
    accounts = grafts.harvest_accounts(state)
    sizes = grafts.by_size(state, accounts)
    whole = grafts.in_all(state, sizes)
    rounds = list(zip(state.plan.care, punctuality(state), strict=True))
    of_grafts = [each for round_, each in rounds if round_.kind != "reminder"]
    cut_through, of = counted(state, TRANSECTED)
    final = final_count.final_count(state)
    works = pace(state)
    start = start_of_work_ms(state)
    return {
        **dict.fromkeys(COLUMNS),
        "case_id": case_id,
        "seal_mark": seal_mark,
        "month": f"{opened:%Y-%m}-01",
        "day": f"{opened:%Y-%m-%d}" if keep_dates else None,
        "entries": len(state.log),
        "cut": whole.cut_in_all,
        "usable": whole.dish + whole.with_placers + whole.placed + whole.left_at_end,
        "placed": whole.placed,
        "discarded": whole.discarded,
        "missing": whole.not_found,
        "hairs_placed": whole.hairs_placed,
        "hairs_per_graft_placed": whole.hairs_per_graft_placed,
        **{f"cut_{each.size.lower()}": each.cut_in_all for each in sizes},
        **{f"placed_{each.size.lower()}": each.placed for each in sizes},
        **{f"{_WORKS[each.work]}_done": each.done for each in works},
        **{f"{_WORKS[each.work]}_person_hours": each.person_hours for each in works},
        **_out_of_body(state),
        "transected": cut_through if of else None,
        "transected_of": of or None,
        "final_count_differences": final and final.differences,
        **{
            f"care_{what}": sum(getattr(each, what) for each in of_grafts)
            for what in ("due", "given", "on_time", "missed")
            if of_grafts
        },
        "row_version": VERSION,
        "planned": whole.planned,
        "work_min": None if start is None else _minutes(end_of_work_ms(state) - start),
        **_temperature([each for round_, each in rounds if round_.kind == "temperature"]),
        **_with_placers(state),
        "discarded_of": whole.kept_before + whole.cut_in_all + whole.divided_in,
        **{f"discarded_{reason}": 0 for reason in DISCARD_REASONS},
        **{f"discarded_{each.reason}": each.grafts for each in losses.discards(state)},
        **_final_count(state, any_grafts=bool(accounts)),
    }


def looked_back(state: CaseState) -> dict[str, object]:
    """The columns of what the forecasts of its finish had wrong, and how many came true."""
    columns: dict[str, object] = {}
    for work, back in wrong_finish(state).items():
        columns |= zip(WRONG_FINISH[work], back.wrong, strict=True)
        columns |= zip(HELD[work], (back.forecasts, back.held, back.held_later), strict=True)
    return columns


def _temperature(read: Sequence[CarePunctuality]) -> dict[str, object]:
    """Readings of all rounds that take one, and how many were outside the band of theirs."""
    if not read:
        return {}
    return {
        "temperature_readings": sum(len(each.readings_c) for each in read),
        "temperature_out_of_band": sum(each.out_of_band for each in read),
    }


def _with_placers(state: CaseState) -> dict[str, object]:
    dried = drying(state, end_of_work_ms(state))
    if dried is None:
        return {}
    return {
        "with_placers_grafts": dried.grafts,
        "with_placers_over_low": dried.over_limit.low,
        "with_placers_over_high": dried.over_limit.high,
    }


def _final_count(state: CaseState, *, any_grafts: bool) -> dict[str, object]:
    """Whether two people's valid counts were there at the end; in how many groups they agree."""
    made = final_count.counted(state)
    both = [each for each in made if each.first is not None and each.second is not None]
    return {
        "closed_without_count": int(any(each.key == NO_COUNT for each in open_at_sign_off(state)))
        if any_grafts
        else None,
        "count_groups": len(both) if made else None,
        "count_groups_agree": sum(each.first == each.second for each in both) if made else None,
    }


def _out_of_body(state: CaseState) -> dict[str, object]:
    """Of all harvests together, the summary's last; nothing where some time out is not known."""
    times = out_of_body.out_of_body(state)
    if not times or any(age.why_unknown for age in harvest_ages(state, end_of_work_ms(state))):
        return {}
    out = times[-1]
    return {
        "out_grafts": out.placed_low + out.waiting_low,
        "out_median_low_min": _minutes(out.median_low_ms),
        "out_median_high_min": _minutes(out.median_high_ms),
        "out_over_4_h_low": out.over_4_h_low,
        "out_over_4_h_high": out.over_4_h_high,
        "out_over_limit_low": out.over_limit_low,
        "out_over_limit_high": out.over_limit_high,
    }


def _minutes(milliseconds: int | None) -> float | None:
    return None if milliseconds is None else milliseconds / 60_000
