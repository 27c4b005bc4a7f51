"""What is said of the flow: the size that runs out, what would do, when to start a harvest."""

from collections.abc import Iterator

from orroom.figures.flow.found import LASTING, MINUTE_MS, SOON, Flow, SizeFlow, Start
from orroom.figures.next_zone import NAMES, sized
from orroom.figures.wording import Times, clock_time


def wanted_line(flow: Flow, now_ms: int) -> tuple[str, ...]:
    """The size that runs out first, how soon, what would help; in fewer words; nothing if none does soon."""
    if not (found := flow.wanted(SOON)):
        return ()
    first = found[0]
    name = NAMES[first.size][1]
    whole = f"{name} {out_in(first, now_ms)}"
    shorter = (whole, f"{name} run out")
    if flow.divide is None:
        return shorter
    pieces = "+".join(flow.divide.way.into)
    would = sized(flow.divide.grafts, flow.divide.way.size)
    return f"{whole}; dividing {would} into {pieces} would help", *shorter


def out_in(size: SizeFlow, now_ms: int) -> str:
    """``run out in 6 min``, ``are down to 12``, ``run out now``."""
    at = size.dry.middle_ms if size.dry is not None else None
    minutes = 0 if at is None else round((at - now_ms) / MINUTE_MS)
    if minutes > 0:
        return f"run out in {minutes} min"
    return f"are down to {size.waiting}" if size.waiting else "run out now"


def next_line(flow: Flow, now_ms: int, times: Times) -> tuple[str, ...]:
    """When the next harvest should start, or else which size runs out second; nothing if neither is known."""
    if flow.start is not None:
        return start_words(flow.start, times)
    if len(found := flow.wanted(SOON)) < 2:
        return ()
    whole = f"then {NAMES[found[1].size][1]} {out_in(found[1], now_ms)}"
    return (whole,)


def start_words(start: Start, times: Times) -> tuple[str, ...]:
    """By when a harvest should start."""
    name = f"harvest {start.harvest}"
    if start.late:
        return f"{name} should start now: placing will wait for it", f"{name}: start now"
    at = clock_time(start.at_ms, times)
    return f"{name}: start by {at} and placing will hardly wait", f"{name}: start by {at}"


def reasons(flow: Flow, times: Times) -> Iterator[str]:
    """The numbers behind what is said, size by size."""
    for each in flow.sizes:
        if each.dry is None and not each.owed:
            continue
        counts = f"{each.waiting:,} wait, {each.owed:,} owed, {each.per_hour:,} cut an hour"
        yield f"{NAMES[each.size][1]}: {counts}, {out_range(each, times)}"
    yield from suggested(flow, times)


def suggested(flow: Flow, times: Times) -> Iterator[str]:
    """What dividing would bring, and what an earlier start would cost."""
    if (divide := flow.divide) is not None:
        name, spare = NAMES[divide.wanted][1], sized(divide.spare, divide.way.size)
        at = None if divide.dry_ms is None else clock_time(divide.dry_ms, times)
        then = f"{name} last" if at is None else f"{name} run out at {at}"
        yield f"{sized(divide.grafts, divide.way.size)} divided: {then}; {spare} can be spared"
    if (start := flow.start) is not None:
        yield f"harvest {start.harvest}: each hour earlier costs {start.graft_hours:,} graft-hours"


def said(flow: Flow, times: Times) -> list[str]:
    """What the lines on the screens say, in full."""
    forms = (wanted_line(flow, flow.at_ms), next_line(flow, flow.at_ms, times))
    found = [each[0] for each in forms if each]
    return found or ["no size runs out soon"]


def out_range(size: SizeFlow, times: Times) -> str:
    """``run out at 10:42 (10:38 to 10:55)``; what is past the time looked at is ``later``."""
    if size.dry is None:
        return "last"
    low, middle, high = (
        "later" if at is None else clock_time(at, times)
        for at in (size.dry.low_ms, size.dry.middle_ms, size.dry.high_ms)
    )
    return f"may run out from {low} on" if middle == "later" else f"run out at {middle} ({low} to {high})"


HOW = (
    "Waiting grafts, the mix of the segments at the forecast pace of cutting, and the pace of placing, zone "
    "by zone in placing order, a zone for each placer, sizes in proportion to what the zone is owed. A size "
    "has run out when no more of it wait than a small batch: three in four of those handed over so far were "
    "larger. The range has 8 in 10 simulated days. Free sites are not looked at. Dividing is suggested only "
    "in ways the plan allows, of grafts that no zone will need, if the size then lasts "
    f"{LASTING} minutes. The next harvest should start early enough that placing waits for it on fewer than "
    "one simulated day in ten. Following the line has gained nothing on simulated days, in minutes without a "
    "size or in the finish: the segments decide what comes. It says what to expect."
)
SOURCE = "common practice, no source; the paces: see FINISH"
