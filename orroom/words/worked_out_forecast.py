"""How what is foretold of the rest of the day is worked out."""

from __future__ import annotations

from orroom.case.terms import WORK_NAMES, Work
from orroom.figures.course import WRONG_CALL, course_by_size
from orroom.figures.pace.forecast import DISCOUNTS, NEVER_SURER, SLOW_END, UNFORESEEN
from orroom.figures.pace.rates import BLOCK_MS, NOW_MINUTES
from orroom.figures.pace.spans import SILENT_MS
from orroom.figures.wording import NO_DATA, clock_time, decimal, grafts, how_long, percent, several
from orroom.figures.yields import FEWEST_TO_ACT
from orroom.words.explanation import Asked, Explanation

FORECAST = (
    "power steady model: J. Q. Smith, J R Stat Soc B 1979;41:375–387; Harvey & Fernandes, J Bus Econ Stat "
    "1989;7:407–417 (from memory); allowances ours, tried on simulated days"
)


def finish(asked: Asked) -> Explanation | None:
    """When all is done."""
    if asked.foretold is None or (told := asked.foretold.outlook).finish is None:
        return None
    offset = asked.state.tally.utc_offset_minutes
    low, middle, high = (clock_time(each, offset) for each in told.finish)
    ends = ", ".join(
        f"{WORK_NAMES[each.work]} {clock_time(each.finish.middle_ms, offset)}"
        for each in told.works
        if each.finish is not None
    )
    leaving, slow_end = percent(sum(chance for chance, _ in UNFORESEEN)), percent(SLOW_END[0])
    return Explanation(
        "FINISH",
        f"{middle} ({low}–{high}, 8 in 10)",
        "When all that is left will be done, as likely earlier as later. Each work goes on at the pace it "
        "has shown, the last of it counting most if that has changed, with the people who are there and the "
        f"breaks that are known. A chance of {leaving} is kept for somebody leaving, one of {slow_end} for a "
        f"slow last {percent(SLOW_END[1])}, and {percent(NEVER_SURER)} of the pace is always in doubt, as is "
        "what is left where it is projected from segments. Works are taken to be independent.",
        f"each alone: {ends}",
        FORECAST,
    )


def pace(asked: Asked, work: Work) -> Explanation | None:
    """The pace of a work."""
    if asked.foretold is None:
        return None
    told = next((each for each in asked.foretold.outlook.works if each.work == work), None)
    if told is None or told.pace.over_case is None:
        return None
    pace = told.pace
    spent = f"{decimal(pace.working_hours)} h of work, {decimal(pace.hand_hours)} person-hours"
    each = "".join(
        f"; {one.who} {grafts(one.done)}" + ("" if one.hours is None else f" in {decimal(one.hours)} h")
        for one in pace.people
    )
    return Explanation(
        WORK_NAMES[work],
        f"{NO_DATA if pace.now is None else grafts(round(pace.now))}/h",
        f"Done in the last {NOW_MINUTES} minutes of work. Breaks are left out: those entered or planned, and "
        f"silences beyond {SILENT_MS // 60_000} minutes. The forecast takes blocks of {BLOCK_MS // 60_000} "
        f"minutes; each counts {min(DISCOUNTS):g} to {max(DISCOUNTS):g} of the next, as has foretold best so "
        "far.",
        f"{grafts(pace.done)} in {spent} ({grafts(round(pace.per_hand or 0))} an hour and person); "
        f"{grafts(told.left)} left; {pace.hands:g} at it{each}",
        FORECAST,
    )


def one_more(asked: Asked) -> Explanation | None:
    """What one more person would change."""
    if asked.foretold is None or not (told := asked.foretold.outlook).one_more:
        return None
    each = "; ".join(f"{WORK_NAMES[more.work]} {round(more.minutes)} min sooner" for more in told.one_more)
    slowest = "" if told.slowest is None else WORK_NAMES[told.slowest]
    return Explanation(
        "one more",
        slowest,
        "The work named ends last. The finish is worked out anew with one more person of the mean pace at a "
        "work from now on.",
        each,
        "the same forecast",
    )


def oldest_then(asked: Asked) -> Explanation | None:
    """How old the oldest may be at the finish."""
    if asked.foretold is None or (out := asked.foretold.outlook.oldest_out_ms) is None:
        return None
    return Explanation(
        "the oldest by then",
        f"up to {how_long(out)}",
        "The finish less the start of the harvest of the oldest lot that still waits, if some of it waits to "
        "the end; less if it is placed first.",
        "see FINISH and OLDEST OUT",
        "the record and the forecast",
    )


def harvest(asked: Asked) -> Explanation | None:
    """Where cutting is heading."""
    if asked.foretold is None:
        return None
    told = asked.foretold.harvest
    lots = [lot for lot in told.lots if lot.projected is not None]
    if not lots:
        return None
    shown = told.projected or lots[0].projected
    if shown is None:
        return None
    middle, low, high = (grafts(round(end)) for end in (shown.grafts, shown.low, shown.high))
    each = "; ".join(f"lot {lot.lot}: {lot.finished} of {lot.segments} segments" for lot in lots)
    return Explanation(
        "on course for",
        f"{middle} ({low}–{high}, 8 in 10)",
        "The mean of the segments (or their grafts per mm, where lengths are entered) times the whole strip, "
        "plus what was divided, less what was given up. A segment in hand counts with what is expected of it "
        "by what is cut. Limits from the spread of the segments, drawn towards what such counts scatter by, "
        "with the t distribution.",
        each,
        "W. G. Cochran, Sampling Techniques, 3rd ed. 1977; J. Schmee, G. J. Hahn, Technometrics "
        "1979;21:417–432; G. K. Smyth, Stat Appl Genet Mol Biol 2004;3:3 (from memory)",
    )


def short(asked: Asked) -> Explanation | None:
    """Of which sizes there will be too few or too many."""
    if asked.foretold is None:
        return None
    plan = asked.state.plan
    told = course_by_size(plan, asked.foretold.harvest)
    words = {plan.size_by_key[size].label: each.words for size, each in told.items() if each.words}
    if not words:
        return None
    ends = "; ".join(
        f"{plan.size_by_key[size].label} {grafts(round(each.projected.low))}–"
        f"{grafts(round(each.projected.high))}, plan {grafts(each.planned)}"
        for size, each in told.items()
        if each.projected is not None
    )
    return Explanation(
        "short by, over",
        "; ".join(f"{label} {each}" for label, each in words.items()),
        f"The projection of a size less its plan, from {FEWEST_TO_ACT} finished segments of each lot on, and "
        "only where chance hardly explains it: that any size is wrongly called short or over has a chance of "
        f"{percent(WRONG_CALL)} at most.",
        f"80 % limits of each size alone: {ends}",
        "the same projection, size by size; S. Holm, Scand J Stat 1979;6:65–70 (from memory)",
    )


def half_placed(asked: Asked) -> Explanation | None:
    """By when half of a lot was placed."""
    if asked.foretold is None:
        return None
    known = {lot: out for lot, out in asked.foretold.half_placed_ms.items() if out is not None}
    if not known:
        return None
    return Explanation(
        "half placed by",
        "; ".join(f"lot {lot} {how_long(out)}" for lot, out in known.items()),
        "The median time out of the body at placing; grafts that wait count as not yet placed. Where lots "
        "mix, they are drawn as entered; the summary has the bounds.",
        several(len(known), "lot"),
        "E. L. Kaplan, P. Meier, J Am Stat Assoc 1958;53:457–481 (from memory)",
    )
