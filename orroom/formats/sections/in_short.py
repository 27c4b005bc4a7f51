"""What is asked first, for those who have half a minute."""

from collections.abc import Collection, Iterator

from orroom.figures.wording import (
    between,
    decimal,
    grafts,
    hours_minutes,
    late,
    minutes_seconds,
    over_plan,
    several,
)
from orroom.formats.blocks import Block, Heading, Strong, Words, joined, listed
from orroom.formats.sections.grafts import does_not_add_up
from orroom.formats.sections.head import left_open
from orroom.formats.sections.out_of_body import longest_with_placers
from orroom.formats.sections.wording import hairs
from orroom.summary.care import CareSummary
from orroom.summary.grafts import AllCounts
from orroom.summary.out_of_body import in_all
from orroom.summary.summary import Summary


def in_short(summary: Summary) -> Iterator[Block]:
    """Grafts and hairs, time out of the body, broken limits, care, what is open."""
    yield Heading("In short")
    yield listed(
        (
            *left_open(summary),
            *_grafts(summary),
            *_out_of_body(summary),
            *_beyond_limits(summary),
            *_not_answered(summary),
            *_care(summary),
            _adds_up(summary),
            *_final_count(summary),
        )
    )


def _grafts(summary: Summary) -> Iterator[Words]:
    whole, area_cm2 = summary.in_all, sum(zone.area_cm2 for zone in summary.zones)
    over = whole.owed - (whole.planned - whole.placed)
    yield (
        Strong(f"{grafts(whole.placed)} of {several(whole.planned, 'graft')} placed"),
        f"{over_plan(over)}, {grafts(whole.owed)} owed; ",
        Strong(f"{hairs(whole.hairs_placed)} of {hairs(whole.hairs_planned)} hairs"),
        f", {decimal(whole.hairs_per_graft_placed, 2)} hairs per graft, over {decimal(area_cm2)} cm².",
    )
    yield _usable(whole)
    if summary.earlier_cases:
        before = sum(each.grafts_placed for each in summary.earlier_cases)
        hairs_before = sum(each.hairs_placed for each in summary.earlier_cases)
        yield (
            f"Earlier cases placed {several(before, 'graft')} and {hairs(hairs_before)} hairs; with these",
            f" {grafts(before + whole.placed)} grafts and {hairs(hairs_before + whole.hairs_placed)} hairs.",
        )


def _usable(whole: AllCounts) -> Words:
    """What is usable, as two sums: where it is, and where it came from; nothing is left out of either."""
    left = whole.dish + whole.with_placers
    where = "left in dishes and with the placers" if left >= 0 else "taken beyond the tally"
    ended = f" + {grafts(whole.left_at_end)} left at the end" if whole.left_at_end else ""
    made = "".join(
        f" {'−' if count < 0 else '+'} {grafts(abs(count))} {words}"
        for count, words in (
            (whole.kept_before, "kept from an earlier case"),
            (-whole.discarded, "discarded"),
            (-whole.divided_out, "divided"),
            (whole.divided_in, "pieces"),
            (-whole.not_found, f"{'not ' if whole.not_found > 0 else ''}found by hand count"),
        )
        if count
    )
    usable = whole.placed + left + whole.left_at_end
    waiting = f" {'−' if left < 0 else '+'} {grafts(abs(left))} {where}" if left or not ended else ""
    return (
        Strong(f"{grafts(whole.placed)} placed{waiting}{ended} = {grafts(usable)} usable"),
        f": {grafts(whole.cut_in_all)} cut{made}.",
    )


def _out_of_body(summary: Summary) -> Iterator[Words]:
    times = in_all(summary.out_of_body)
    if times is not None and times.placed_high:
        longest = between(hours_minutes, times.longest_placed_low_ms, times.longest_placed_high_ms)
        half = "less than half placed so far"
        if times.median_low_ms is not None:
            half = f"half placed by {between(hours_minutes, times.median_low_ms, times.median_high_ms)}"
        yield f"Out of the body: {half}, the longest {longest}."


def _beyond_limits(summary: Summary) -> Iterator[Words]:
    """Each limit of the surgeon's that was broken: time out of the body, with the placers, temperature."""
    if most := summary.out_of_body_limit_ms:
        placed = [each.longest_placed_high_ms or 0 for each in summary.out_of_body]
        waiting = [each.waiting_out_ms or 0 for each in summary.harvests if each.waiting > 0]
        beyond = [
            f"{words} {hours_minutes(longest)}"
            for words, longest in (
                ("placed after up to", max(placed, default=0)),
                ("still waiting after", max(waiting, default=0)),
            )
            if longest > most
        ]
        if beyond:
            yield (
                Strong(f"Out of the body beyond the limit of {hours_minutes(most)}"),
                f": {', '.join(beyond)}.",
            )
    with_placers = summary.drying
    if with_placers is not None and with_placers.over_limit_high:
        over = between(grafts, with_placers.over_limit_low, with_placers.over_limit_high)
        yield (
            Strong(f"{over} of {several(with_placers.grafts, 'graft')} with the placers beyond the limit"),
            f" of {minutes_seconds(with_placers.limit_ms or 0)}, the longest "
            f"{longest_with_placers(with_placers)}.",
        )
    for each in summary.care:
        if each.out_of_band:
            yield (
                Strong(
                    f"{each.label}: {each.out_of_band} of {several(each.readings, 'reading')} out of band"
                ),
                f" ({each.wanted}): {decimal(each.lowest_c)} to {decimal(each.highest_c)} °C.",
            )


def _not_answered(summary: Summary) -> Iterator[Words]:
    """That of some broken limits nobody said what was done."""
    if open_ := sum(each.done is None for each in summary.broken_limits):
        of = several(len(summary.broken_limits), "broken limit")
        yield (Strong(f"Nobody said what was done about {open_} of {of}"), ".")


def _care(summary: Summary) -> Iterator[Words]:
    """What fell due and was not given on time; nothing before care can be due."""
    if not summary.care or not (any(each.due for each in summary.care) or summary.in_all.cut_in_all):
        return
    if not any(each.given for each in summary.care):
        due = ", ".join(f"{each.label} {several(each.due, 'time')}" for each in summary.care if each.due)
        paused = f", paused {several(len(summary.care_paused), 'time')}" if summary.care_paused else ""
        yield (
            Strong("No care round was given"),
            f"; {f'fell due: {due}' if due else 'none fell due'}{paused}.",
        )
        return
    paused_rounds = {each.care for each in summary.care_paused}
    wrong = [words for each in summary.care if (words := joined(_not_on_time(each, paused_rounds), "; "))]
    yield from ((*words, ".") for words in wrong)
    if not wrong:
        yield f"Care rounds: all {sum(each.due for each in summary.care)} were on time."


def _not_on_time(care: CareSummary, paused: Collection[str]) -> Iterator[Words]:
    """What was wrong with one round, the worst first; ``paused`` are the rounds that somebody let rest."""
    label, due = care.label, several(care.due, "round")
    given = "answered" if care.kind == "reminder" else "given"
    since, gap = hours_minutes(care.since_last_ms), hours_minutes(care.longest_gap_ms)
    if care.given == 0:
        if care.missed:
            yield Strong(f"{label}: never {given}")
        elif care.care in paused:
            yield Strong(f"{label}: paused and never {given}")
    elif care.missed_at_end:
        yield Strong(f"{label}: not {given} for {since} at the end")
    elif care.missed:
        yield Strong(f"{label}: not {given} for {gap} once")
    if care.missed:
        yield f"{care.missed} of {due} due missed"
    if delayed := care.given - care.on_time:
        of = "" if care.missed else f" of {due} given"
        words = f"{delayed}{of} late, the latest by {late(care.latest_ms)}"
        yield words if care.missed else f"{label}: {words}"


def _adds_up(summary: Summary) -> Words:
    """Whether the record adds up by itself, or where not; the final count is another thing."""
    if not summary.adds_up:
        return does_not_add_up(summary)
    explained = several(len(summary.mismatches), "mismatch", "mismatches")
    return f"The record adds up{f', {explained} explained' if summary.mismatches else ''}."


def _final_count(summary: Summary) -> Iterator[Words]:
    """How the final count ended; nothing before anybody has counted."""
    count, said = summary.final_count, "Final count: "
    if count is not None and count.differences:
        wrong = "; ".join(
            f"{each.label}, harvest {each.harvest}, {each.place}: tally {grafts(each.tally)}, "
            f"{grafts(each.first)} and {grafts(each.second)} counted"
            for each in summary.counted
            if not each.agrees
        )
        yield (said, Strong(several(count.differences, "difference")), f": {wrong}.")
    elif count is not None:
        yield f"{said}two people's count agrees with the tally."
    elif holding := [each for each in summary.counts_made if each.holds]:
        yield (said, Strong("one person counted"), f", {holding[0].who}; the second count was not made.")
    elif summary.counts_made:
        yield (said, Strong("none valid"), "; grafts moved after it was made.")
    elif summary.signed_off is not None:
        yield (said, Strong("none"), ". Two people did not count what was left.")
