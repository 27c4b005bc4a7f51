"""What is said of the flow: the size that runs dry, what would do, when to start a harvest."""

from collections.abc import Iterator

from orroom.figures.flow.found import LASTING, MINUTE_MS, SOON, Flow, SizeFlow, Start
from orroom.figures.next_zone import NAMES, sized
from orroom.figures.wording import Times, clock_time


def wanted_line(flow: Flow, now_ms: int) -> tuple[str, ...]:
    """The size that runs dry first and what would do, then in fewer words; nothing if none does soon."""
    if not (found := flow.wanted(SOON)):
        return ()
    first = found[0]
    name, dry = NAMES[first.size][1], dry_in(first, now_ms)
    whole = f"wanted: {name}, {dry}"
    if flow.divide is None:
        return whole, f"wanted: {name}"
    pieces = "+".join(flow.divide.way.into)
    would = sized(flow.divide.grafts, flow.divide.way.size)
    return f"{whole}; {would} into {pieces} would do", whole, f"wanted: {name}"


def dry_in(size: SizeFlow, now_ms: int) -> str:
    """``dry in 6 min``, ``dry now``."""
    at = size.dry.middle_ms if size.dry is not None else None
    minutes = 0 if at is None else round((at - now_ms) / MINUTE_MS)
    return f"dry in {minutes} min" if minutes > 0 else "dry now"


def next_line(flow: Flow, now_ms: int, times: Times) -> tuple[str, ...]:
    """When the next harvest should start, or else which size runs dry second; nothing if neither is known."""
    if flow.start is not None:
        return start_words(flow.start, times)
    if len(found := flow.wanted(SOON)) < 2:
        return ()
    whole = f"then {NAMES[found[1].size][1]}, {dry_in(found[1], now_ms)}"
    return (whole,)


def start_words(start: Start, times: Times) -> tuple[str, ...]:
    """By when a harvest should start."""
    name = f"harvest {start.harvest}"
    if start.late:
        return f"{name} is wanted now: placing will wait for it", f"{name} is wanted now"
    at = clock_time(start.at_ms, times)
    return f"{name}: start by {at} and placing will hardly wait", f"{name}: start by {at}"


def reasons(flow: Flow, times: Times) -> Iterator[str]:
    """The numbers behind what is said, size by size."""
    for each in flow.sizes:
        if each.dry is None and not each.owed:
            continue
        when = "" if each.dry is None else f", {dry_range(each, times)}"
        yield (
            f"{NAMES[each.size][1]}: {each.waiting:,} wait, {each.owed:,} owed, {each.per_hour:,} cut an hour"
            f"{when}"
        )
    yield from suggested(flow, times)


def suggested(flow: Flow, times: Times) -> Iterator[str]:
    """What dividing would bring, and what an earlier start would cost."""
    if (divide := flow.divide) is not None:
        name, spare = NAMES[divide.wanted][1], sized(divide.spare, divide.way.size)
        at = None if divide.dry_ms is None else clock_time(divide.dry_ms, times)
        then = f"{name} last" if at is None else f"{name} run dry at {at}"
        yield f"{sized(divide.grafts, divide.way.size)} divided: {then}; {spare} can be spared"
    if (start := flow.start) is not None:
        yield f"harvest {start.harvest}: each hour earlier costs {start.graft_hours:,} graft-hours"


def said(flow: Flow, times: Times) -> list[str]:
    """What the lines on the screens say, in full."""
    forms = (wanted_line(flow, flow.at_ms), next_line(flow, flow.at_ms, times))
    found = [each[0] for each in forms if each]
    return found or ["no size runs dry soon"]


def dry_range(size: SizeFlow, times: Times) -> str:
    """``dry 10:42 (10:38 to 10:55)``; what is past the time looked at is ``later``."""
    if size.dry is None:
        return "lasts"
    low, middle, high = (
        "later" if at is None else clock_time(at, times)
        for at in (size.dry.low_ms, size.dry.middle_ms, size.dry.high_ms)
    )
    return f"lasts, or dry from {low}" if middle == "later" else f"dry {middle} ({low} to {high})"


HOW = (
    "Waiting grafts, the mix of the segments at the forecast pace of cutting, and the pace of placing, zone "
    "by zone in placing order, a zone for each placer, sizes in proportion to what the zone is owed. A size "
    "has run out when no more of it wait than a small batch: three in four of those handed over so far were "
    "larger. The range has 8 in 10 simulated days. Free sites are not looked at. Dividing is suggested only "
    "in ways the plan allows, of grafts that no zone will need, if the size then lasts "
    f"{LASTING} minutes. A harvest may start so late that placing idles because of it on fewer than one "
    "simulated day in ten."
)
SOURCE = "common practice, no source; the paces: see FINISH"
