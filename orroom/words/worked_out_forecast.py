"""How what is forecast of the rest of the day is worked out."""

from orroom.case.terms import WORK_NAMES, Work
from orroom.figures.case_times import case_times
from orroom.figures.course import WRONG_CALL, course_by_size
from orroom.figures.pace.forecast import SLOW_END, UNFORESEEN
from orroom.figures.pace.rates import NOW_MINUTES
from orroom.figures.pace.spans import SILENT_MS
from orroom.figures.wording import NO_DATA, clock_time, decimal, grafts, how_long, percent, several
from orroom.figures.yields import FEWEST_TO_ACT
from orroom.words.explanation import Asked, Explanation

FORECAST = (
    "local level models weighed by likelihood: Harvey, Structural Time Series Models, 1989; "
    "allowances: our own, tried on simulated days"
)


def finish(asked: Asked) -> Explanation | None:
    """When all will be done."""
    if asked.foretold is None or (found := asked.foretold.outlook).finish is None:
        return None
    times = case_times(asked.state)
    low, middle, high, later = (clock_time(each, times) for each in found.finish)
    ends = ", ".join(
        f"{WORK_NAMES[each.work]} {clock_time(each.finish.middle_ms, times)}"
        for each in found.works
        if each.finish is not None
    )
    leaving, slow_end = percent(sum(chance for chance, _ in UNFORESEEN)), percent(SLOW_END[0])
    none_for_ms = found.nobody_placing_ms(asked.now_ms)
    stopped = "" if none_for_ms is None else f" if placing goes on now: none for {how_long(none_for_ms)}"
    cases = max(each.cases for each in found.works)
    learned = f" Corrected by what {cases} closed cases had wrong." if cases else ""
    return Explanation(
        "FINISH",
        f"{middle} ({low} to {high}, to {later} if it slows){stopped}",
        "When all that is left will be done: the median forecast, and a range with 8 in 10 of such days if "
        f"the pace does not change. The last time allows for a {leaving} chance that somebody leaves and "
        f"{slow_end} that the last {percent(SLOW_END[1])} is slow. Counted from each task's last entry, with "
        "the people at work now and the known breaks. Steady, wandering and learning paces and a change of "
        "pace are tried; each counts by how well it predicted the day so far. What segments will give is "
        "drawn, three times in five with people who help each other to the end. Tasks are independent."
        f"{learned}",
        f"each task alone: {ends}",
        FORECAST,
    )


def pace(asked: Asked, work: Work) -> Explanation | None:
    """The pace of a work."""
    if asked.foretold is None:
        return None
    found = next((each for each in asked.foretold.outlook.works if each.work == work), None)
    if found is None or found.pace.over_case is None:
        return None
    pace = found.pace
    spent = f"{decimal(pace.working_hours)} h of work, {decimal(pace.hand_hours)} person-hours"
    each = "".join(
        f"; {one.who} {grafts(one.done)}" + ("" if one.hours is None else f" in {decimal(one.hours)} h")
        for one in pace.people
    )
    fewer = ""
    if found.fewer_since_ms is not None:
        since = clock_time(found.fewer_since_ms, case_times(asked.state))
        fewer = f"; one person less since {since} is more likely than not"
    return Explanation(
        WORK_NAMES[work],
        f"{NO_DATA if pace.now is None else grafts(round(pace.now))}/h"
        + ("" if found.none_for_ms is None else f", then none for {how_long(found.none_for_ms)}"),
        f"Pace over the last {NOW_MINUTES} minutes of work, without breaks: those entered or planned, and "
        f"gaps over {SILENT_MS // 60_000} minutes, but for the time of grafts entered late after one.",
        f"{grafts(pace.done)} in {spent} ({grafts(round(pace.per_hand or 0))} an hour each); "
        f"{grafts(found.left)} left; {pace.hands:g} at work{each}{fewer}",
        FORECAST,
    )


def one_more(asked: Asked) -> Explanation | None:
    """What one more person would change."""
    if asked.foretold is None or not (found := asked.foretold.outlook).one_more:
        return None
    each = "; ".join(f"{WORK_NAMES[more.work]} {round(more.minutes)} min sooner" for more in found.one_more)
    slowest = "" if found.slowest is None else WORK_NAMES[found.slowest]
    return Explanation(
        "one more",
        slowest,
        "The task named ends last. The finish is forecast again with one more person of average pace on each "
        "task from now on.",
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
        "From the start of the oldest harvest still waiting to the finish, if some of it waits to the end; "
        "shorter if it is placed first.",
        "see FINISH and OLDEST OUT",
        "the record and the forecast",
    )


def to_come(asked: Asked) -> Explanation | None:
    """Where cutting is heading."""
    if asked.foretold is None:
        return None
    found = asked.foretold.to_come
    harvests = [harvest for harvest in found.harvests if harvest.projected is not None]
    if not harvests:
        return None
    shown = found.projected or harvests[0].projected
    if shown is None:
        return None
    middle, low, high = (grafts(round(end)) for end in (shown.grafts, shown.low, shown.high))
    each = "; ".join(
        f"harvest {harvest.harvest}: {harvest.finished} of {harvest.segments} segments"
        for harvest in harvests
    )
    return Explanation(
        "probably",
        f"{middle} ({low}–{high}, 8 in 10)",
        "The mean of the segments (or their grafts per mm, where lengths are entered) times the whole strip, "
        "plus pieces from dividing, minus discards. A segment in progress counts with its expected yield, "
        "given what is cut of it. The range comes from the spread of the segments, shrunk towards counting "
        "scatter, with the t distribution.",
        each,
        "Sampling Techniques, 3rd ed. 1977 (not verified); Technometrics 1979;21:417–432; Stat Appl Genet "
        "Mol Biol 2004;3(1):3",
    )


def short(asked: Asked) -> Explanation | None:
    """Of which sizes there will be too few or too many."""
    if asked.foretold is None:
        return None
    plan = asked.state.plan
    found = course_by_size(plan, asked.foretold.to_come)
    words = {plan.size_by_key[size].label: each.words for size, each in found.items() if each.words}
    if not words:
        return None
    ends = "; ".join(
        f"{plan.size_by_key[size].label} {grafts(round(each.projected.low))}–"
        f"{grafts(round(each.projected.high))}, plan {grafts(each.planned)}"
        for size, each in found.items()
        if each.projected is not None
    )
    return Explanation(
        "short by, over",
        "; ".join(f"{label} {each}" for label, each in words.items()),
        f"The projection of a size minus its plan, once {FEWEST_TO_ACT} segments of each harvest are "
        f"finished, "
        "and only where chance hardly explains it: the chance of wrongly calling any size short or over is "
        f"at most {percent(WRONG_CALL)}.",
        f"80 % range of each size alone: {ends}",
        "the same projection, size by size; Scand J Stat 1979;6:65–70",
    )


def half_placed(asked: Asked) -> Explanation | None:
    """By when half of a harvest was placed."""
    if asked.foretold is None:
        return None
    known = {harvest: out for harvest, out in asked.foretold.half_placed_ms.items() if out is not None}
    if not known:
        return None
    return Explanation(
        "half placed by",
        "; ".join(f"harvest {harvest} {how_long(out)}" for harvest, out in known.items()),
        "The median time out of the body at placing; waiting grafts count as not yet placed. Where "
        "harvests mix, "
        "grafts are assigned to harvests as entered; the summary shows both ends of what is possible.",
        several(len(known), "harvest"),
        "J Am Stat Assoc 1958;53:457–481",
    )
