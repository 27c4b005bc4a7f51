"""Counts to compare with the record, on paper and by two at the end, and where it disagrees with itself."""

from collections.abc import Iterator

from orroom.case.terms import SIGN_OUT
from orroom.figures.wording import decimal, grafts, several
from orroom.formats.blocks import Block, Heading, List, Paragraph, Strong, listed, table
from orroom.formats.sections.wording import clock
from orroom.summary.final_count import FinalCount
from orroom.summary.summary import Summary


def paper_count(summary: Summary) -> Iterator[Block]:
    """A count on paper next to the record, and where it contradicts itself."""
    if not summary.paper_count:
        return
    yield Heading("Paper count")
    yield table(
        summary.paper_count,
        ("size", lambda each: each.size),
        ("paper", lambda each: grafts(each.grafts)),
        ("hairs", lambda each: decimal(each.hairs, 0)),
        ("should be", lambda each: decimal(each.hairs_of_these, 0)),
        ("record", lambda each: grafts(each.usable)),
        ("paper − record", lambda each: grafts(each.difference)),
    )
    if wrong := [each.contradiction for each in summary.paper_count if each.contradiction]:
        yield Paragraph(Strong("The paper contradicts itself."))
        yield List(wrong)
    else:
        yield Paragraph("The paper does not contradict itself.")
    yield Paragraph("Should be: the hairs in that many grafts. Record: usable grafts.")


def final_count(summary: Summary) -> Iterator[Block]:
    """Both counts next to the tally, and what was said aloud at the end; shown once the case is closed."""
    count, signed = summary.final_count, summary.signed_off
    if count is None and signed is None and not summary.fates:
        return
    yield Heading("Final count")
    if count is None:
        said = " No valid count by two people since the last graft moved."
        yield Paragraph((Strong("None."), said))
    else:
        yield from _counted(summary, count)
    yield from _fates(summary)
    if others := [each for each in summary.counts_made if not each.holds]:
        yield Paragraph("Superseded counts:")
        yield listed(f"{clock(summary, each.at)} {each.who}: {grafts(each.grafts)} in all" for each in others)
    if signed is not None and signed.confirmed is not None:
        for words, aloud in (("Said aloud", True), ("Not said aloud", False)):
            if items := [each for each in SIGN_OUT.values() if (each in signed.confirmed) is aloud]:
                yield Paragraph(f"{words} (WHO checklist, sign out):")
                yield List(items)


def _counted(summary: Summary, count: FinalCount) -> Iterator[Block]:
    alike = count.first_by == count.second_by  # people are left out, and both have the same role
    first, second = ("first", "second") if alike else (count.first_by, count.second_by)
    yield table(
        [each for each in summary.counted if each.tally or each.first or each.second],
        ("group", lambda each: f"{each.label}, harvest {each.harvest}, {each.place}"),
        ("tally", lambda each: grafts(each.tally)),
        (first, lambda each: grafts(each.first)),
        (second, lambda each: grafts(each.second)),
        ("differs", lambda each: "" if each.agrees else "≠"),
    )
    by = (
        f"By {count.first_by} {clock(summary, count.first_at)}, "
        f"by {count.second_by} {clock(summary, count.second_at)}, groups of 0 left out. "
    )
    if count.differences:
        yield Paragraph((by, Strong(f"{several(count.differences, 'difference')}.")))
    else:
        yield Paragraph(f"{by}All agree.")
    why = [
        f"{each.label}, harvest {each.harvest}, {each.place}: {each.explanation}"
        for each in summary.counted
        if each.explanation
    ]
    if why:
        yield List(why)


def _fates(summary: Summary) -> Iterator[Block]:
    """What became of what was left, group by group."""
    if summary.fates:
        labels = {zone.zone: zone.label for zone in summary.zones}
        yield Paragraph("Left at the end:")
        yield listed(
            f"{grafts(each.grafts)} × {each.label}, harvest {each.harvest}, {each.place}: {each.fate}"
            + (f", into {labels.get(each.into_zone, each.into_zone)}" if each.into_zone else "")
            + (f", by {each.placed_by}" if each.placed_by else "")
            + (f" ({each.reason})" if each.reason else "")
            + f". {each.who} {clock(summary, each.at)}"
            for each in summary.fates
        )


def mismatches(summary: Summary) -> Iterator[Block]:
    """Where the record disagrees with itself, and what was said of it."""
    yield Heading("Mismatches")
    yield listed(
        (Strong("open"), f": {each.sentence}")
        if each.explanation is None
        else f"explained: {each.sentence} — {each.explanation}"
        for each in summary.mismatches
    )
