"""What the first page says, from its title to the seal."""

from collections.abc import Sequence
from typing import Final

from msgspec import Struct

from orroom.figures.wording import NO_DATA, between, decimal, grafts, hours_minutes, several
from orroom.formats.drawing import Drawing
from orroom.formats.first_page import parts
from orroom.formats.first_page.day import NARROW, day
from orroom.formats.first_page.looks import LEAST, MOST, Look, counted, looks
from orroom.formats.first_page.out_curve import out_curve
from orroom.formats.first_page.zone_boxes import HEIGHTS, zone_boxes
from orroom.formats.sections.head import days, offset
from orroom.formats.sections.wording import clock, hairs
from orroom.summary.out_of_body import in_all
from orroom.summary.summary import Summary

#: What is said where there is nothing to show.
NOTHING_TO_LOOK_AT: Final = "Nothing is open, no limit was broken, and every care round was given on time."
NO_WORK: Final = "No work has been recorded yet."


class Headline(Struct, frozen=True):
    """One of the four figures that are read first; ``beyond`` the surgeon's limit it is marked."""

    figure: str
    what: str
    detail: str
    beyond: bool = False


class Signature(Struct, frozen=True):
    """Who signs, and what is known of it; empty words are a line to sign by hand."""

    who: str
    words: str


class Followed(Struct, frozen=True):
    """A section that follows, by its name and its title."""

    name: str
    title: str


class LeftOut(Struct, frozen=True):
    """What is said of the looks that are left out, and the sections that have them; no words for none."""

    words: str
    sections: Sequence[Followed]


class FirstPage(Struct, frozen=True):
    """The page. Drawings come in several heights or breadths; a writer takes what it has room for.

    ``out_by_size`` too is left out where there is none, and the last of the ``looks``: ``left_out`` has what
    is said with all of them shown, with one fewer, and so on.
    """

    case: str
    title: str
    day: str
    status: str
    open: bool
    clock: str
    headlines: Sequence[Headline]
    looks_of: str
    looks: Sequence[Look]
    left_out: Sequence[LeftOut]
    follows: Sequence[Followed]
    day_broad: Drawing | None
    day_narrow: Drawing | None
    zones: Sequence[Drawing]
    sizes: parts.Part
    out: parts.Part
    out_curve: Drawing | None
    out_by_size: str
    count: parts.Part
    people: parts.Part
    signatures: Sequence[Signature]
    seal: str
    entries: str
    cautions: str
    not_intact: str = ""


def first_page(summary: Summary, follows: Sequence[Followed] = ()) -> FirstPage:
    """The first page of a summary, at its sharing level; it names where what it leaves out follows."""
    found = looks(summary)
    most = min(MOST, len(found))
    boxes = [zone_boxes(summary, high) for high in HEIGHTS]
    return FirstPage(
        case=summary.case,
        title=summary.title or "",
        day=days(summary),
        status=_status(summary),
        open=summary.signed_off is None,
        clock=_clock(summary),
        headlines=_headlines(summary),
        looks_of=counted(found),
        looks=found[:MOST],
        left_out=[_left_out(found[shown:], follows) for shown in range(most, min(LEAST, most) - 1, -1)],
        follows=follows,
        day_broad=day(summary),
        day_narrow=day(summary, NARROW),
        zones=[each for each in boxes if each is not None],
        sizes=parts.sizes(summary),
        out=parts.out(summary),
        out_curve=out_curve(summary),
        out_by_size=parts.beyond_by_size(summary),
        count=parts.count(summary),
        people=parts.people(summary),
        signatures=_signatures(summary),
        seal=f"{summary.entries}:{summary.seal}" if summary.seal else "",
        entries=_entries(summary),
        not_intact=summary.not_intact or "",
        cautions=" ".join(_sentence(each) for each in summary.cautions),
    )


def _left_out(looks: Sequence[Look], follows: Sequence[Followed]) -> LeftOut:
    sections = {each.section for each in looks}
    where = [each for each in follows if each.name in sections]
    words = f"{len(looks)} more{'' if where else ' in the whole summary.'}"
    return LeftOut(words if looks else "", where)


def _sentence(words: str) -> str:
    return words if words.endswith((".", "!")) else f"{words}."


def _clock(summary: Summary) -> str:
    if summary.share_level == "anonymous":
        return "Times from the opening of the case, durations in hours:minutes."
    return f"Clock times {offset(summary)}, durations in hours:minutes."


def _status(summary: Summary) -> str:
    signed = summary.signed_off
    if signed is None:
        return "Open. Not signed off."
    roles = {each.who: each.role for each in summary.people}
    people = " and ".join(parts.with_role(who, roles.get(who)) for who in (signed.who, signed.second))
    return f"Signed off {clock(summary, signed.at)} by {people}"


def _headlines(summary: Summary) -> tuple[Headline, ...]:
    whole, area_cm2 = summary.in_all, sum(zone.area_cm2 for zone in summary.zones)
    over = sum(zone.grafts_over for zone in summary.zones)
    rest = [f"{grafts(whole.owed)} owed"] * bool(whole.owed) + [f"{grafts(over)} over plan"] * bool(over)
    planned = "; ".join([f"{grafts(whole.planned)} planned", *rest])
    worked = bool(whole.placed)
    per_cm2 = whole.placed / area_cm2 if area_cm2 else None
    wanted = whole.planned / area_cm2 if area_cm2 else None
    return (
        Headline(grafts(whole.placed) if worked else NO_DATA, "grafts placed", planned),
        Headline(
            hairs(whole.hairs_placed) if worked else NO_DATA,
            "hairs placed",
            f"{hairs(whole.hairs_planned)} planned"
            + (f"; {decimal(whole.hairs_per_graft_placed, 2)} a graft" if worked else ""),
        ),
        Headline(
            decimal(per_cm2) if worked else NO_DATA,
            "grafts per cm²",
            f"{decimal(wanted)} planned; over {decimal(area_cm2)} cm²",
        ),
        _longest(summary),
    )


def _longest(summary: Summary) -> Headline:
    times, limit = in_all(summary.out_of_body), summary.out_of_body_limit_ms
    what = "longest out of the body"
    limited = "no limit set" if limit is None else f"limit {hours_minutes(limit)}"
    if times is None or not times.placed_high:
        unknown = next((each.out_unknown for each in summary.harvests if each.out_unknown), None)
        return Headline(NO_DATA, what, f"not known: {unknown}" if unknown else limited)
    longest = between(hours_minutes, times.longest_placed_low_ms, times.longest_placed_high_ms)
    half = "half not yet placed"
    if times.median_low_ms is not None:
        half = f"half placed by {between(hours_minutes, times.median_low_ms, times.median_high_ms)}"
    beyond = limit is not None and (times.longest_placed_high_ms or 0) > limit
    return Headline(longest, what, f"{limited}; {half}", beyond=beyond)


def _signatures(summary: Summary) -> tuple[Signature, ...]:
    signed, by_hand = summary.signed_off, Signature("", "surgeon")
    if signed is None:
        return (Signature("", "first person"), Signature("", "second person"), by_hand)
    roles = {each.who: each.role for each in summary.people}
    entered = f"entered {clock(summary, signed.at)}"
    known = [(who, roles.get(who)) for who in (signed.who, signed.second)]
    return (
        *(Signature(who, entered if role in {None, who} else f"{role}, {entered}") for who, role in known),
        by_hand,
    )


def _entries(summary: Summary) -> str:
    cancelled = sum(each.zone is None for each in summary.corrections)
    said = several(summary.entries, "entry", "entries")
    return f"{said}{f', {cancelled} cancelled' if cancelled else ''}"
