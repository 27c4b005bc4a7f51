"""What is told of a case entry by entry: spans of work, corrections, care, checks, notes, breaks. Pure."""

from __future__ import annotations

from orroom.case import events as e
from orroom.case.state import CaseState
from orroom.case.terms import DISCARD_REASONS
from orroom.figures.punctuality import care_given, punctuality
from orroom.figures.wording import hours_minutes
from orroom.summary import recorded_parts as part
from orroom.words.entries import care_label, spoken, zone_label

#: Why a placing is among the corrections that was not cancelled.
MOVED = "wrong zone"
#: A clock that is behind by less harms no figure. Common practice, no source.
MOST_BEHIND_MS = 60_000


def spans(state: CaseState) -> tuple[part.Span, ...]:
    """First and last time of each kind of work that was entered at all, then of the whole record.

    Not those of the first and last entry: a rescued tap is taken late and keeps its time.
    """
    kinds: tuple[tuple[part.Work, type[e.Event]], ...] = (
        ("cutting", e.GraftsCut),
        ("making sites", e.SitesMade),
        ("placing", e.GraftsPlaced),
        ("whole record", e.Event),
    )
    found = []
    for work, kind in kinds:
        times = [entry.stamp.at_ms for entry in state.standing() if isinstance(entry.event, kind)]
        if times:
            first, last = min(times), max(times)
            found.append(part.Span(work=work, first=first, last=last, duration_ms=last - first))
    return tuple(found)


def clock_warnings(state: CaseState) -> tuple[str, ...]:
    """A caution for each time that the clock was behind what had been entered already.

    So it may be after a new start of the machine: the case's time then goes on from the last entry, or where
    time is not steady, falls back: a station joins earlier. A rescued tap keeps its earlier time too, and is
    no reason: it joins nothing.
    """
    found = [
        f"THE CLOCK WAS BEHIND after a restart of the machine (entry {step.seq:,}): time went on from the "
        "last entry before, and times across that are too short by as long as the machine was off."
        for step in state.tally.clock_steps
        if step.at_start
    ]
    latest_ms = state.log[0].stamp.at_ms
    for entry in state.log:
        behind_ms = latest_ms - entry.stamp.at_ms
        if isinstance(entry.event, e.StationJoined) and behind_ms >= MOST_BEHIND_MS:
            found.append(
                f"THE CLOCK WAS BEHIND. {entry.stamp.station} joined (entry {entry.seq:,}) "
                f"{hours_minutes(behind_ms)} h before what had been entered: times across that are not right."
            )
        latest_ms = max(latest_ms, entry.stamp.at_ms)
    return tuple(found)


def care_rounds(state: CaseState) -> tuple[part.CareSummary, ...]:
    """How each round of the plan went, as long as care fell due."""
    return tuple(
        part.CareSummary(
            care=each.care,
            label=each.label,
            kind=round_.kind,
            due=each.due,
            given=each.given,
            on_time=each.on_time,
            missed=each.missed,
            missed_at_end=each.missed_at_end,
            latest_ms=each.latest_ms,
            longest_gap_ms=each.longest_gap_ms,
            since_last_ms=each.since_last_ms,
            readings=len(each.readings_c),
            low_c=round_.low_c,
            high_c=round_.high_c,
            lowest_c=min(each.readings_c, default=None),
            highest_c=max(each.readings_c, default=None),
            out_of_band=each.out_of_band,
        )
        for round_, each in zip(state.plan.care, punctuality(state), strict=True)
    )


def care_times(state: CaseState) -> tuple[part.CareTime, ...]:
    """Every round given."""
    return tuple(
        part.CareTime(
            at=each.at_ms,
            care=each.care,
            label=care_label(state.plan, each.care),
            who=each.who,
            due_at=each.due_at_ms,
            late_ms=each.late_ms,
            on_time=each.on_time,
            temperature_c=each.temperature_c,
            band=each.band,
        )
        for each in care_given(state)
    )


def care_pauses(state: CaseState) -> tuple[part.CarePause, ...]:
    """Every pause of a prompt."""
    return tuple(
        part.CarePause(
            at=entry.stamp.at_ms,
            care=entry.event.care,
            label=care_label(state.plan, entry.event.care),
            who=entry.stamp.who,
            until=entry.event.until_ms,
        )
        for entry in state.standing()
        if isinstance(entry.event, e.PromptPaused)
    )


def discards(state: CaseState) -> tuple[part.DiscardSummary, ...]:
    """Grafts given up, by reason; reasons that did not occur are left out."""
    given_up = [entry.event for entry in state.standing() if isinstance(entry.event, e.GraftsDiscarded)]
    found = []
    for reason in DISCARD_REASONS:
        in_cutting: dict[str, int] = {}
        later: dict[str, int] = {}
        for event in given_up:
            if event.reason == reason:
                by_size = later if event.lot is None else in_cutting
                by_size[event.size] = by_size.get(event.size, 0) + event.count
        grafts = sum(in_cutting.values()) + sum(later.values())
        if grafts:
            found.append(
                part.DiscardSummary(reason=reason, in_cutting=in_cutting, later=later, grafts=grafts)
            )
    return tuple(found)


def revisions(state: CaseState) -> tuple[part.Revision, ...]:
    """Every change of the plan."""
    return tuple(
        part.Revision(
            seq=entry.seq,
            at=entry.stamp.at_ms,
            who=entry.stamp.who,
            reason=entry.event.reason,
            planned=entry.event.plan.planned(),
        )
        for entry in state.standing()
        if isinstance(entry.event, e.PlanRevised)
    )


def corrections(state: CaseState) -> tuple[part.Correction, ...]:
    """Every correction with the entry that it cancelled, every move that holds with the placing it moved."""
    found = []
    for entry in state.log:
        match entry.event:
            case e.EntryCorrected(entry=number, reason=reason):
                zone = None
            case e.PlacingMoved(entry=number, zone=zone) if state.stands(entry):
                reason = MOVED
            case _:
                continue
        wrong = state.entry(number)
        if wrong is not None:
            found.append(
                part.Correction(
                    seq=entry.seq,
                    at=entry.stamp.at_ms,
                    who=entry.stamp.who,
                    reason=reason,
                    entry=wrong.seq,
                    said=spoken(wrong.event, state.plan),
                    entered_at=wrong.stamp.at_ms,
                    entered_by=wrong.stamp.who,
                    zone=zone,
                    label=None if zone is None else zone_label(state.plan, zone),
                )
            )
    return tuple(found)


def spot_checks(state: CaseState) -> tuple[part.SpotCheck, ...]:
    """Every close look."""
    return tuple(
        part.SpotCheck(
            at=entry.stamp.at_ms,
            who=entry.stamp.who,
            subject=entry.event.subject,
            zone=entry.event.zone,
            label=None if entry.event.zone is None else zone_label(state.plan, entry.event.zone),
            looked_at=entry.event.looked_at,
            faulty=entry.event.faulty,
            fault=entry.event.fault,
            follicles=entry.event.follicles,
            transected=entry.event.transected,
        )
        for entry in state.standing()
        if isinstance(entry.event, e.SpotChecked)
    )


def spot_check_totals(checks: tuple[part.SpotCheck, ...]) -> tuple[part.SpotCheckTotal, ...]:
    """Close looks added up by subject."""
    found = []
    for subject in sorted({check.subject for check in checks}):
        mine = [check for check in checks if check.subject == subject]
        found.append(
            part.SpotCheckTotal(
                subject=subject,
                checks=len(mine),
                looked_at=sum(check.looked_at for check in mine),
                faulty=sum(check.faulty for check in mine),
            )
        )
    return tuple(found)


def notes(state: CaseState) -> tuple[part.Remark, ...]:
    """Every note."""
    return tuple(
        part.Remark(seq=entry.seq, at=entry.stamp.at_ms, who=entry.stamp.who, text=entry.event.text)
        for entry in state.standing()
        if isinstance(entry.event, e.NoteAdded)
    )


def reopenings(state: CaseState) -> tuple[part.Remark, ...]:
    """Every reopening with its reason."""
    return tuple(
        part.Remark(seq=entry.seq, at=entry.stamp.at_ms, who=entry.stamp.who, text=entry.event.reason)
        for entry in state.standing()
        if isinstance(entry.event, e.CaseReopened)
    )


def breaks(state: CaseState) -> tuple[part.Break, ...]:
    """Every break, in the order they began. Taking over a station ends a break too."""
    found: list[part.Break] = []
    away: dict[str, int] = {}
    for entry in state.standing():
        who, at = entry.stamp.who, entry.stamp.at_ms
        match entry.event:
            case e.BreakStarted():
                away[who] = len(found)
                found.append(part.Break(who=who, since=at, until=None))
            case e.BreakEnded() | e.ShiftChanged() if who in away:
                place = away.pop(who)
                found[place] = part.Break(who=who, since=found[place].since, until=at)
    return tuple(found)
