"""The section of the Markdown summary that stands first: a few lines for who has half a minute."""

from __future__ import annotations

from collections.abc import Collection, Iterator

from orroom.figures.wording import decimal, grafts, hours_minutes, late, minutes_seconds, several
from orroom.formats.markdown_figures import between, longest_on_bench
from orroom.formats.page import Page, escaped, listed
from orroom.summary.adding_up import where_not
from orroom.summary.care import CareSummary
from orroom.summary.out_of_body import ALL_LOTS
from orroom.summary.summary import Summary


def in_short(page: Page) -> Iterator[str]:
    """What is asked first: grafts and hairs, time out of the body, broken limits, care, what is open."""
    told = page.summary
    yield "## In short"
    yield listed(
        (
            *_left_open(page),
            *_grafts(told),
            *_out_of_body(told),
            *_beyond_limits(told),
            *_care(told),
            _adds_up(told),
            *_final_count(told),
        )
    )


def _left_open(page: Page) -> Iterator[str]:
    """What each sign-off left open, why, and who was told."""
    for each in page.summary.left_open:
        signed = page.summary.signed_off
        when = "" if signed is not None and each.at == signed.at else f" before, {page.date(each.at)}"
        yield (
            f"**Left open at sign-off{when}: {escaped(each.sentence)}**: {escaped(each.open_because)} "
            f"(told: {escaped(each.told)})."
        )


def _grafts(told: Summary) -> Iterator[str]:
    whole, area_cm2 = told.in_all, sum(zone.area_cm2 for zone in told.zones)
    yield (
        f"**{grafts(whole.placed)} of {several(whole.planned, 'graft')} placed**, {grafts(whole.owed)} owed; "
        f"**{hairs(whole.hairs_placed)} of {hairs(whole.hairs_planned)} hairs**, "
        f"{decimal(whole.hairs_per_graft_placed, 2)} hairs per graft, over {decimal(area_cm2)} cm²."
    )
    yield (
        f"{several(whole.cut, 'graft')} cut, {grafts(whole.discarded)} discarded, "
        f"{grafts(whole.dish + whole.bench)} left in dishes and on the bench."
    )


def _out_of_body(told: Summary) -> Iterator[str]:
    together = [each for each in told.out_of_body if each.lot == ALL_LOTS] or told.out_of_body
    for each in together[:1]:
        if each.placed_high:
            longest = between(hours_minutes, each.longest_placed_low_ms, each.longest_placed_high_ms)
            half = "less than half placed so far"
            if each.median_low_ms is not None:
                half = f"half placed by {between(hours_minutes, each.median_low_ms, each.median_high_ms)}"
            yield f"Out of the body: {half}, the longest {longest}."


def _beyond_limits(told: Summary) -> Iterator[str]:
    """Each limit of the surgeon's own that was broken: time out of the body, on the bench, temperature."""
    if most := told.out_of_body_limit_ms:
        placed = [each.longest_placed_high_ms or 0 for each in told.out_of_body]
        waiting = [each.waiting_out_ms or 0 for each in told.lots if each.waiting > 0]
        beyond = [
            f"{words} {hours_minutes(longest)}"
            for words, longest in (
                ("placed after up to", max(placed, default=0)),
                ("still waiting after", max(waiting, default=0)),
            )
            if longest > most
        ]
        if beyond:
            yield f"**Out of the body beyond the limit of {hours_minutes(most)}**: {', '.join(beyond)}."
    bench = told.drying
    if bench is not None and bench.over_limit_high:
        over = between(grafts, bench.over_limit_low, bench.over_limit_high)
        yield (
            f"**{over} of {several(bench.grafts, 'graft')} on the bench beyond the limit** of "
            f"{minutes_seconds(bench.limit_ms or 0)}, the longest {longest_on_bench(bench)} "
            "(minutes:seconds)."
        )
    for each in told.care:
        if each.out_of_band:
            yield (
                f"**{escaped(each.label)}: {each.out_of_band} of {several(each.readings, 'reading')} out of "
                f"band** ({each.wanted}): {decimal(each.lowest_c)} to {decimal(each.highest_c)} °C."
            )


def _care(told: Summary) -> Iterator[str]:
    """What fell due and was not given on time; nothing before care can be due."""
    if not told.care or not (any(each.due for each in told.care) or told.in_all.cut):
        return
    if not any(each.given for each in told.care):
        due = ", ".join(
            f"{escaped(each.label)} {several(each.due, 'time')}" for each in told.care if each.due
        )
        paused = f", paused {several(len(told.care_paused), 'time')}" if told.care_paused else ""
        yield f"**No care round was given**; {f'fell due: {due}' if due else 'none fell due'}{paused}."
        return
    paused_rounds = {each.care for each in told.care_paused}
    wrong = [words for each in told.care if (words := "; ".join(_not_on_time(each, paused_rounds)))]
    yield from (f"{words}." for words in wrong)
    if not wrong:
        yield f"Care rounds: all {sum(each.due for each in told.care)} were on time."


def _not_on_time(care: CareSummary, paused: Collection[str]) -> Iterator[str]:
    """What was wrong with one round, the worst first; ``paused`` are the rounds that somebody let rest."""
    label, due = escaped(care.label), several(care.due, "round")
    since, gap = hours_minutes(care.since_last_ms), hours_minutes(care.longest_gap_ms)
    if care.given == 0:
        if care.missed:
            yield f"**{label}: never given**"
        elif care.care in paused:
            yield f"**{label}: paused and never given**"
    elif care.missed_at_end:
        yield f"**{label}: not given for {since} at the end**"
    elif care.missed:
        yield f"**{label}: once not given for {gap}**"
    if care.missed:
        yield f"{care.missed} of {due} due were missed"
    if delayed := care.given - care.on_time:
        of = "" if care.missed else f" of {due} given"
        words = f"{delayed}{of} late, the most by {late(care.latest_ms)}"
        yield words if care.missed else f"{label}: {words}"


def _adds_up(told: Summary) -> str:
    """Whether the record adds up by itself, or where not; the final count is another thing."""
    if not told.adds_up:
        return f"**Does not add up**: {'; '.join(map(escaped, where_not(told)))}."
    explained = several(len(told.mismatches), "mismatch", "mismatches")
    return f"The record adds up{f', {explained} explained' if told.mismatches else ''}."


def _final_count(told: Summary) -> Iterator[str]:
    """How the final count ended; nothing before anybody has counted."""
    count = told.final_count
    if count is not None and count.differences:
        wrong = "; ".join(
            f"{escaped(each.label)}, lot {escaped(each.lot)}, {each.place}: tally {grafts(each.tally)}, "
            f"{grafts(each.first)} and {grafts(each.second)} counted"
            for each in told.counted
            if not each.agrees
        )
        yield f"Final count: **{several(count.differences, 'difference')}**: {wrong}."
    elif count is not None:
        yield "Final count: two people agree with the tally."
    elif holding := [each for each in told.counts_made if each.holds]:
        yield f"Final count: **one person counted**, {escaped(holding[0].who)}; nobody has counted after."
    elif told.counts_made:
        yield "Final count: **none holds**; grafts moved after it was made."
    elif told.signed_off is not None:
        yield "Final count: **none**. No two people counted what was left."


def hairs(number: float) -> str:
    """Hairs, with a place after the point only where there is something to say."""
    return decimal(number, 0 if number.is_integer() else 1)
