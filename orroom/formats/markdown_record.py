"""Sections of the Markdown summary that tell how the day went: times, care, people, corrections, notes."""

from __future__ import annotations

from collections.abc import Iterator

from orroom.case.terms import BENCH_CARE, SIGN_OUT
from orroom.figures.wording import decimal, grafts, hours_minutes, late, percent, several
from orroom.formats.page import Page, escaped, listed, table
from orroom.summary.changes import Correction
from orroom.summary.final_count import FinalCount
from orroom.summary.pace import Span


def times(page: Page) -> Iterator[str]:
    """First and last entry of each kind of work, and the breaks."""
    yield "## Times"
    yield table(
        ("work", "first", "last", "duration"),
        ((each.work, *_ends(page, each), hours_minutes(each.duration_ms)) for each in page.summary.times),
    )
    if page.summary.breaks:
        yield listed(
            f"break {escaped(each.who)} {page.clock(each.since)}–{page.clock(each.until)}"
            for each in page.summary.breaks
        )


def _ends(page: Page, span: Span) -> tuple[str, str]:
    """First and last of it; of the whole record with their days: it may begin the day before."""
    told = page.date if span.work == "whole record" else page.clock
    return told(span.first), told(span.last)


def final_count(page: Page) -> Iterator[str]:
    """Both counts beside the tally, and what was said aloud at the end; told once the case is closed."""
    told = page.summary
    count, signed = told.final_count, told.signed_off
    if count is None and signed is None:
        return
    yield "## Final count"
    if count is None:
        yield "**None.** No two people have counted what was left since grafts moved last."
    else:
        yield table(
            ("pile", "tally", *_counters(count), "differs"),
            (
                (
                    f"{escaped(each.label)}, lot {escaped(each.lot)}, {each.place}",
                    grafts(each.tally),
                    grafts(each.first),
                    grafts(each.second),
                    "" if each.agrees else "≠",
                )
                for each in told.counted
                if each.tally or each.first or each.second
            ),
        )
        yield (
            f"By {escaped(count.first_by)} {page.clock(count.first_at)}, "
            f"by {escaped(count.second_by)} {page.clock(count.second_at)}, piles of 0 left out. "
            + ("All agree." if not count.differences else f"**{several(count.differences, 'difference')}.**")
        )
        why = [
            f"{escaped(each.label)}, lot {escaped(each.lot)}, {each.place}: {escaped(each.explanation)}"
            for each in told.counted
            if each.explanation
        ]
        if why:
            yield listed(why)
    others = [each for each in told.counts_made if not each.holds]
    if others:
        yield "Counts that no longer hold:\n\n" + listed(
            f"{page.clock(each.at)} {escaped(each.who)}: {grafts(each.grafts)} in all" for each in others
        )
    if signed is not None and signed.confirmed is not None:
        asked = (("Said aloud", True), ("Not said aloud", False))
        for words, said in asked:
            if items := [each for each in SIGN_OUT.values() if (each in signed.confirmed) is said]:
                yield f"{words} (WHO checklist, sign out):\n\n" + listed(items)


def _counters(count: FinalCount) -> tuple[str, str]:
    """Who counted; first and second where people are left out and both have the same role."""
    alike = count.first_by == count.second_by
    return ("first", "second") if alike else (escaped(count.first_by), escaped(count.second_by))


def paper_count(page: Page) -> Iterator[str]:
    """A count on paper beside the record, and where it speaks against itself."""
    rows = page.summary.paper_count
    if not rows:
        return
    yield "## Paper count"
    yield table(
        ("size", "paper", "hairs", "should be", "record", "paper less record"),
        (
            (
                each.size,
                grafts(each.grafts),
                decimal(each.hairs, 0),
                decimal(each.hairs_of_these, 0),
                grafts(each.usable),
                grafts(each.difference),
            )
            for each in rows
        ),
    )
    wrong = [escaped(each.contradiction) for each in rows if each.contradiction]
    if wrong:
        yield "**The paper contradicts itself.**\n\n" + listed(wrong)
    else:
        yield "The paper does not contradict itself."
    yield "Should be: the hairs of so many grafts. Record: usable grafts."


def care(page: Page) -> Iterator[str]:
    """How the care rounds went, and each one given; the bench, wetted every few minutes, only in sum."""
    told = page.summary
    if not told.care and not told.care_given:
        return
    yield "## Care rounds"
    if told.care:
        yield table(
            ("round", "due", "given", "on time", "missed", "most late", "longest gap"),
            (
                (
                    escaped(each.label),
                    str(each.due),
                    str(each.given),
                    str(each.on_time),
                    str(each.missed),
                    late(each.latest_ms),
                    hours_minutes(each.longest_gap_ms),
                )
                for each in told.care
            ),
        )
        yield from _care_ended(page)
    for each in told.care:
        if each.readings:
            span = f"{decimal(each.lowest_c)} to {decimal(each.highest_c)} °C"
            yield (
                f"{escaped(each.label)}: {several(each.readings, 'reading')}, {span}, "
                f"{each.out_of_band} out of band."
            )
    bench = [each for each in told.care_given if each.care == BENCH_CARE]
    if bench:
        delayed = [each.late_ms or 0 for each in bench if not each.on_time]
        most = f", the most by {late(max(delayed))}" if delayed else ""
        yield f"{escaped(bench[0].label)}: {several(len(bench), 'time')}, **{len(delayed)} late**{most}."
    rounds = [each for each in told.care_given if each.care != BENCH_CARE]
    if rounds:
        yield table(
            ("due", "given", "round", "who", "how", "reading"),
            (
                (
                    page.clock(each.due_at),
                    page.clock(each.at),
                    escaped(each.label),
                    escaped(each.who),
                    "on time" if each.on_time else f"**late** {late(each.late_ms)}",
                    _reading(each.temperature_c, each.band),
                )
                for each in rounds
            ),
            texts=5,
        )
    if told.care_paused:
        yield listed(
            f"{page.clock(each.at)} {escaped(each.who)} paused until {page.clock(each.until)}: "
            f"{escaped(each.label)}"
            for each in told.care_paused
        )


def _care_ended(page: Page) -> Iterator[str]:
    """What the table of rounds counts, until when, and how long each had not been given then."""
    told = page.summary
    why = "the end of the work" if told.care_until == told.end_of_work else "when the last graft was placed"
    yield (
        "On time: before it was due or within its grace. Missed: fell due past its grace and was not given. "
        f"Due: given or missed, until {page.clock(told.care_until)}, {why}."
    )
    since = [
        f"{escaped(each.label)} {hours_minutes(each.since_last_ms)}"
        + (f" (**{each.missed_at_end} missed**)" if each.missed_at_end else "")
        for each in told.care
        if each.since_last_ms is not None
    ]
    if since:
        yield f"Time since the last, at {page.clock(told.care_until)}: {', '.join(since)}."


def _reading(temperature_c: float | None, band: str | None) -> str:
    if temperature_c is None:
        return ""
    return f"{decimal(temperature_c)} °C" + (f", {band}" if band not in {None, "in"} else "")


def people(page: Page) -> Iterator[str]:
    """What each person did, by size."""
    everybody = page.summary.people
    yield "## People"
    rows = [
        (escaped(person.who), did, *page.by_size(counts))
        for person in everybody
        for did in ("cut", "placed", "divided", "discarded")
        if (counts := getattr(person, did))
    ]
    if rows:
        yield table(("who", "did", *page.sizes, "all"), rows, texts=2)
        yield "Cut: without those spoilt in cutting, which are among the discarded."
    roles = ["" if each.role in {None, each.who} else f" ({each.role})" for each in everybody]
    yield "Entries: " + ", ".join(
        f"{escaped(each.who)}{role} {grafts(each.entries)}"
        for each, role in zip(everybody, roles, strict=True)
    )


def discards(page: Page) -> Iterator[str]:
    """What was given up, by reason."""
    if not page.summary.discards:
        return
    yield "## Discards"
    yield table(
        ("reason", "when", *page.sizes, "all"),
        (
            (each.reason, when, *page.by_size(counts))
            for each in page.summary.discards
            for when, counts in (("in cutting", each.in_cutting), ("later", each.later))
            if counts
        ),
        texts=2,
    )


def donor(page: Page) -> Iterator[str]:
    """What the plan expected of the donor area against what is usable."""
    told = page.summary.donor
    if told is None:
        return
    yield "## Donor: expected and usable so far"
    rows = [
        (size, decimal(told.expected_by_size.get(size)), grafts(told.usable_by_size.get(size, 0)))
        for size in page.sizes
    ]
    yield table(("size", "expected", "usable"), [*rows, ("all", decimal(told.expected), grafts(told.usable))])
    if told.difference is None:
        yield "More may come: not every segment is finished."
    else:
        yield f"Usable less expected: {decimal(told.difference)} ({percent(told.difference_share, 1)})."
    if told.unassigned_share:
        yield f"The expected mix leaves {percent(told.unassigned_share, 1)} without a size."


def revisions(page: Page) -> Iterator[str]:
    """How the plan changed."""
    if page.summary.revisions:
        yield "## Plan revisions"
        yield listed(
            f"{page.clock(each.at)} {escaped(each.who)}: {escaped(each.reason)} "
            f"({several(each.planned, 'graft')} planned)"
            for each in page.summary.revisions
        )


def corrections(page: Page) -> Iterator[str]:
    """What was entered and cancelled, or placed and moved to another zone."""
    yield "## Corrections"
    yield listed(
        f"{page.clock(each.at)} {escaped(each.who)} {'cancelled' if each.label is None else 'moved'} "
        f"entry {each.entry} ({escaped(each.said)}; {escaped(each.entered_by)} "
        f"{page.clock(each.entered_at)}){_why(each)}"
        for each in page.summary.corrections
    )


def _why(correction: Correction) -> str:
    if correction.label is None:
        return f": {escaped(correction.reason)}"
    return f" to {escaped(correction.label)}"


def spot_checks(page: Page) -> Iterator[str]:
    """What close looks found."""
    if not page.summary.spot_checks:
        return
    yield "## Spot checks"
    yield table(
        ("subject", "checks", "looked at", "faulty"),
        (
            (each.subject, str(each.checks), grafts(each.looked_at), grafts(each.faulty))
            for each in page.summary.spot_check_totals
        ),
    )
    yield listed(
        f"{page.clock(each.at)} {escaped(each.who)}: {each.subject}"
        f"{'' if each.label is None else f', {escaped(each.label)}'}"
        f", {each.faulty} of {each.looked_at} faulty"
        f"{'' if each.fault is None else f', {escaped(each.fault)}'}"
        f"{'' if each.follicles is None else f', {each.transected} of {each.follicles} follicles transected'}"
        for each in page.summary.spot_checks
    )


def notes(page: Page) -> Iterator[str]:
    """What else was written down."""
    yield "## Notes"
    yield listed(
        f"{page.clock(each.at)} {escaped(each.who)}: {escaped(each.text)}" for each in page.summary.notes
    )
