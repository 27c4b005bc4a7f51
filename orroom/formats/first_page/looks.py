"""What needs a look: what is open, what broke a limit or was late, what was explained, in this order."""

from collections.abc import Iterator
from typing import Final, Literal

from msgspec import Struct

from orroom.case.limits import LIMIT_KINDS
from orroom.figures.wording import (
    between,
    decimal,
    grafts,
    hours_minutes,
    late,
    minutes_seconds,
    percent,
    several,
)
from orroom.formats.sections.out_of_body import longest_with_placers
from orroom.formats.sections.wording import clock
from orroom.summary.care import CareSummary
from orroom.summary.out_of_body import in_all
from orroom.summary.summary import Summary

Mark = Literal["open", "beyond", "explained"]
#: What the marks mean, in the head of the list.
MEANT: Final[dict[Mark, str]] = {
    "open": "open",
    "beyond": "beyond a limit or late",
    "explained": "explained",
}
#: So many fit; the rest is counted. Where all else is long as well, fewer, but not below this.
MOST: Final = 8
LEAST: Final = 2


class Look(Struct, frozen=True):
    """One thing: what it is, at what time, how much against which limit, and what was said of it."""

    mark: Mark
    what: str
    at: str = ""
    how: str = ""
    said: str = ""
    section: str = "mismatches"  #: where the whole of it is


def looks(summary: Summary) -> tuple[Look, ...]:
    """Everything that needs a look, the most pressing first."""
    return (*_open(summary), *_limits(summary), *_care(summary), *_explained(summary))


def counted(found: tuple[Look, ...]) -> str:
    """How many there are of each kind: ``1 open, 3 explained``."""
    marks = [each.mark for each in found]
    return ", ".join(f"{marks.count(mark)} {meant}" for mark, meant in MEANT.items() if mark in marks)


def _open(summary: Summary) -> Iterator[Look]:
    """What is open: with the reason where it was signed off so; a count is not asked for before the end."""
    if summary.not_intact is not None:
        yield Look("open", "The record is not intact", how=summary.not_intact, section="record")
    whole = summary.in_all
    if summary.signed_off is None and whole.owed:
        how = f"{grafts(whole.placed)} of {several(whole.planned, 'graft')} placed, {grafts(whole.owed)} owed"
        yield Look("open", "Placing is not finished", how=how, section="zones")
    because = {each.mismatch: each for each in summary.left_open}
    for each in summary.still_open:
        at_the_end = each.mismatch.startswith(("no-count", "no-fate"))
        if at_the_end and summary.signed_off is None and whole.owed:
            continue
        if each.mismatch.partition(":")[0] in LIMIT_KINDS:  # below, with how far it was broken
            continue
        reason = because.get(each.mismatch)
        said = "" if reason is None else f"Left open: {reason.open_because} (informed: {reason.informed})"
        yield Look(
            "open",
            capital(each.sentence),
            how="" if said or at_the_end else "not explained",
            said=said,
            section="count" if at_the_end else "mismatches",
        )


def _limits(summary: Summary) -> Iterator[Look]:
    """The surgeon's limits that were broken: time out of the body, with the placers, temperature."""
    limit, together = summary.out_of_body_limit_ms, in_all(summary.out_of_body)
    if limit is not None and together is not None and together.over_limit_high:
        share = between(percent, together.over_limit_low, together.over_limit_high)
        longest = between(hours_minutes, together.longest_placed_low_ms, together.longest_placed_high_ms)
        how = f"{share} of grafts; limit {hours_minutes(limit)}, longest {longest}"
        said = _done(summary, "out-of-body")
        yield Look("beyond", "Out of the body longer than the limit", how=how, said=said, section="out")
    dried = summary.drying
    if dried is not None and dried.over_limit_high:
        over = between(grafts, dried.over_limit_low, dried.over_limit_high)
        how = f"{over} of {several(dried.grafts, 'graft')}; limit {minutes_seconds(dried.limit_ms or 0)}"
        how += f", longest {longest_with_placers(dried)}"
        said = _done(summary, "with-placers")
        yield Look("beyond", "With the placers, not wetted in time", how=how, said=said, section="out")
    rounds = {each.care: each for each in summary.care}
    read = [each for each in summary.care_given if each.temperature_c is not None]
    for number, each in enumerate(read):
        if each.band in {None, "in"} or each.care not in rounds:
            continue
        after = next((later for later in read[number + 1 :] if later.care == each.care), None)
        back = "no reading after it"
        if after is not None:
            back = f"next {decimal(after.temperature_c)} °C at {clock(summary, after.at)}"
        what = f"{capital(each.label)}: {decimal(each.temperature_c)} °C"
        said = _done(summary, "temperature", each.at)
        how = f"{rounds[each.care].wanted}; {back}"
        yield Look("beyond", what, clock(summary, each.at), how, said, "care")


def _done(summary: Summary, kind: str, at_ms: int | None = None) -> str:
    """What was done about each limit of a kind that was broken, or about the one broken then."""
    answers = [
        "Nobody said what was done"
        if each.done is None
        else f"Done: {each.done} ({each.who} {clock(summary, each.done_at)})"
        for each in summary.broken_limits
        if each.limit.partition(":")[0] == kind and at_ms in {None, each.at}
    ]
    return "; ".join(dict.fromkeys(answers))


def _care(summary: Summary) -> Iterator[Look]:
    """Each round that was missed or late, at the time of the first that was."""
    for each in summary.care:
        missed = [one.at for one in summary.care_missed if one.care == each.care]
        delayed = [one for one in summary.care_given if one.care == each.care and not one.on_time]
        if not missed and not delayed:
            continue
        words = [f"{len(missed)} missed"] * bool(missed) + [f"{len(delayed)} late"] * bool(delayed)
        first = min([*missed, *(one.due_at or one.at for one in delayed)])
        what = f"{capital(each.label)}: {', '.join(words)}"
        yield Look("beyond", what, clock(summary, first), _how_late(each), section="care")


def _how_late(care: CareSummary) -> str:
    given = f"{care.given} of {several(care.due, 'round')} given"
    if care.missed_at_end and care.since_last_ms is not None:
        return f"{given}; none for {hours_minutes(care.since_last_ms)} at the end"
    if care.missed and care.longest_gap_ms is not None:
        return f"{given}; longest gap {hours_minutes(care.longest_gap_ms)}"
    return f"{given}, the latest {late(care.latest_ms)} after it was due"


def _explained(summary: Summary) -> Iterator[Look]:
    for each in summary.mismatches:
        if each.explanation is not None:
            yield Look("explained", capital(each.sentence), said=f"Explained: {each.explanation}")


def capital(words: str) -> str:
    """Words that begin a line."""
    return words[:1].upper() + words[1:]
