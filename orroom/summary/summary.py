"""A case as it stands at its last entry. Pure: the same record gives the same summary, byte for byte.

No clock is read: "now" is the end of the work.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence

from orroom.case import events as e
from orroom.case.mismatches import mismatches
from orroom.case.plan import Donor
from orroom.case.state import CaseState
from orroom.case.terms import CAUTIONS
from orroom.errors import OrroomError
from orroom.figures import counts, donor
from orroom.figures.counts import SizeCount, hairs_per_graft
from orroom.figures.density import density_of
from orroom.figures.holding import lot_ages, times_out_at_placing
from orroom.figures.pace.work import end_of_work_ms, start_of_work_ms
from orroom.figures.punctuality import care_until_ms
from orroom.figures.quality import division_losses
from orroom.figures.survival import SURVIVAL_REFERENCE
from orroom.summary import closing, figured, paced, recorded
from orroom.summary import summary_parts as part
from orroom.summary.adding_up import adds_up, balanced, lot_accounts
from orroom.summary.summary_parts import Summary
from orroom.words.entries import lot_label

__all__ = ["Summary", "summarise"]

REMARK_ON_LOTS = (
    "The tally draws from the oldest lot first; which lot a placed graft really came from is known only "
    "as far as the dishes were kept apart."
)

#: 9999-12-30 00:00 UTC: later is no date at every offset.
FARTHEST_MS = 253_402_128_000_000


def summarise(state: CaseState, head: str | None = None, not_sound: str | None = None) -> Summary:
    """Everything that is told of the case, with the hash that its record ends in.

    ``not_sound`` says what is wrong with that record; it is told as the first caution too.
    Raises ``OrroomError`` before the case is opened, and for a time that is in no calendar.
    """
    if state.tally.plan is None:
        raise OrroomError(
            "The case has not been opened yet, so there is nothing to summarise.",
            "Open it with a plan first.",
        )
    _refuse_untold_times(state)
    plan = state.plan
    opened, hours = state.log[0], plan.limits.out_of_body_hours
    accounts, zones, lots = lot_accounts(state), _zones(state), _lots(state)
    sizes = _sizes(state, accounts)
    in_all = _in_all(state, sizes)
    checks = recorded.spot_checks(state)
    return Summary(
        not_sound=not_sound,
        cautions=(*part.warnings(not_sound), *recorded.clock_warnings(state), *CAUTIONS, *plan.cautions),
        case=plan.case,
        title=plan.title,
        opened=opened.stamp.at_ms,
        opened_by=opened.stamp.who,
        last_entry=state.log[-1].stamp.at_ms,
        start_of_work=start_of_work_ms(state),
        end_of_work=end_of_work_ms(state),
        utc_offset_minutes=state.tally.utc_offset_minutes,
        entries=len(state.log),
        head=head,
        status="signed off" if state.tally.signed_off else "open",
        signed_off=closing.sign_off(state),
        earlier_sign_offs=closing.earlier_sign_offs(state),
        left_open=closing.left_open(state),
        final_count=closing.final_count(state),
        counts_made=closing.counts_made(state),
        counted=closing.counted(state),
        reopened=recorded.reopenings(state),
        adds_up=adds_up(state, sizes, in_all, accounts, zones),
        sizes=sizes,
        in_all=in_all,
        accounts=accounts,
        zones=zones,
        lots=lots,
        remark_on_lots=REMARK_ON_LOTS,
        out_of_body=figured.out_of_body(state),
        out_of_body_reference=SURVIVAL_REFERENCE,
        out_of_body_limit_ms=None if hours is None else round(hours * 3_600_000),
        waiting_curve=figured.waiting(state),
        drying=figured.drying(state),
        times=recorded.spans(state),
        progress=figured.progress(state),
        pace=paced.paced(state),
        pace_by_person=paced.paced_by_person(state),
        care_until=care_until_ms(state),
        care=recorded.care_rounds(state),
        care_given=recorded.care_times(state),
        care_paused=recorded.care_pauses(state),
        people=_people(state),
        discards=recorded.discards(state),
        quality=figured.quality(state),
        quality_by_person=figured.quality_by_person(state),
        quality_by_hour=figured.quality_by_hour(state),
        follicles=figured.follicles(state),
        division_losses=figured.division_losses(state),
        donor=None if plan.donor is None else _donor(state, plan.donor, sizes, lots),
        projected=figured.projected(state),
        mismatches=tuple(
            part.MismatchSummary(
                mismatch=each.key,
                amount=each.amount,
                unit=each.unit,
                sentence=each.sentence,
                explanation=each.explanation,
            )
            for each in mismatches(state)
        ),
        revisions=recorded.revisions(state),
        corrections=recorded.corrections(state),
        spot_check_totals=recorded.spot_check_totals(checks),
        spot_checks=checks,
        notes=recorded.notes(state),
        breaks=recorded.breaks(state),
    )


def _refuse_untold_times(state: CaseState) -> None:
    for entry in state.log:
        said = (getattr(entry.event, name, None) for name in ("started_at_ms", "until_ms", "starts_at_ms"))
        for at_ms in (entry.stamp.at_ms, *said):
            if at_ms is not None and abs(at_ms) > FARTHEST_MS:
                raise OrroomError(
                    f"Entry {entry.seq} holds a time that is in no calendar: {at_ms} ms.",
                    "Such a case cannot be summed up; orroom verify says whether its record is sound.",
                )


def _counts(count: SizeCount, parts: Iterable[part.Accounts]) -> dict[str, float]:
    """The fields that ``part.Counts`` shares with ``SizeCount``, and whether all of its parts add up."""
    held = {name: getattr(count, name) for name in part.Counts.model_fields if name != "adds_up"}
    return {**held, "adds_up": balanced(held) and all(each.adds_up for each in parts)}


def _sizes(state: CaseState, accounts: Sequence[part.LotAccounts]) -> tuple[part.SizeCounts, ...]:
    found = []
    for key, count in counts.by_size(state).items():
        size = state.plan.size_by_key[key]
        found.append(
            part.SizeCounts(
                size=key,
                label=size.label,
                hairs_per_graft=size.hairs,
                **_counts(count, [each for each in accounts if each.size == key]),
            )
        )
    return tuple(found)


def _in_all(state: CaseState, sizes: Sequence[part.SizeCounts]) -> part.AllCounts:
    count = counts.total(counts.by_size(state))
    lost = [each.hairs_lost for each in division_losses(state)]
    return part.AllCounts(
        hairs_per_graft_planned=hairs_per_graft(count.hairs_planned, count.planned),
        hairs_per_graft_usable=hairs_per_graft(count.hairs_usable, count.usable),
        hairs_per_graft_placed=hairs_per_graft(count.hairs_placed, count.placed),
        hairs_lost_dividing=None if None in lost else sum(each for each in lost if each is not None),
        **_counts(count, sizes),
    )


def _zones(state: CaseState) -> tuple[part.ZoneSummary, ...]:
    found = []
    for count in counts.by_zone(state):
        density = density_of(count)
        over = {size: max(0, count.placed[size] - count.planned[size]) for size in count.planned}
        found.append(
            part.ZoneSummary(
                zone=count.zone.key,
                label=count.zone.label,
                kind=count.zone.kind,
                area_cm2=density.area_cm2,
                planned=count.planned,
                placed=count.placed,
                owed=count.owed,
                over=over,
                grafts_planned=count.planned_total,
                grafts_placed=count.placed_total,
                grafts_owed=count.owed_total,
                grafts_over=count.over_total,
                hairs_planned=count.hairs_planned,
                hairs_placed=count.hairs_placed,
                planned_grafts_per_cm2=density.planned_grafts_per_cm2,
                placed_grafts_per_cm2=density.placed_grafts_per_cm2,
                planned_hairs_per_cm2=density.planned_hairs_per_cm2,
                placed_hairs_per_cm2=density.placed_hairs_per_cm2,
                sites_made=count.sites_made,
                sites_free=count.sites_free,
                reseated=count.reseated,
            )
        )
    return tuple(found)


def _lots(state: CaseState) -> tuple[part.LotSummary, ...]:
    at_placing = {each.lot: each for each in times_out_at_placing(state)}
    found = []
    for age in lot_ages(state, end_of_work_ms(state)):
        out = at_placing.get(age.lot)
        found.append(
            part.LotSummary(
                lot=age.lot,
                label=lot_label(state.plan, age.lot),
                harvest_started=age.started_at_ms,
                harvest_ended=age.ended_at_ms,
                segments_done=age.segments_done,
                segments=age.segments,
                cut=age.cut,
                waiting=age.waiting,
                waiting_out_ms=age.out_ms,
                out_unknown=age.why_unknown,
                placed=state.tally.held("placed", lot=age.lot),
                mean_out_at_placing_ms=None if out is None else round(out.mean_ms),
                longest_out_at_placing_ms=None if out is None else out.longest_ms,
            )
        )
    return tuple(found)


def _people(state: CaseState) -> tuple[part.PersonSummary, ...]:
    """Everybody of the staff of any plan of the case, who entered something, or was named in an entry."""
    plans = [each.event.plan for each in state.log if isinstance(each.event, e.CaseOpened | e.PlanRevised)]
    roles = {person.initials: person.role for plan in (*plans, state.plan) for person in plan.staff}
    entries = Counter(entry.stamp.who for entry in state.log)
    named = {
        each.event.left if isinstance(each.event, e.ShiftChanged) else each.event.second
        for each in state.log
        if isinstance(each.event, e.ShiftChanged | e.CaseSignedOff)
    }
    found = []
    for who in sorted({*entries, *roles, *named}):
        done = {
            what: counts.done_by(state.tally, who, what)
            for what in ("cut", "placed", "divided", "discarded", "discarded cutting")
        }
        found.append(
            part.PersonSummary(
                who=who,
                role=roles.get(who),
                entries=entries[who],
                cut=done["cut"],
                placed=done["placed"],
                divided=done["divided"],
                discarded=dict(Counter(done["discarded"]) + Counter(done["discarded cutting"])),
            )
        )
    return tuple(found)


def _donor(
    state: CaseState, expected: Donor, sizes: tuple[part.SizeCounts, ...], lots: tuple[part.LotSummary, ...]
) -> part.DonorSummary:
    """What was expected beside what there is; their difference once no more is to come.

    That is when every segment of every lot is finished, or the case is signed off.
    """
    done = {each.lot: each.segments_done for each in lots}
    all_cut = all(each.segments and done.get(each.key, 0) >= each.segments for each in state.plan.lots)
    by_size = donor.expected_by_size(expected)
    in_all = donor.expected_grafts(expected)
    usable = {size.size: size.dish + size.bench + size.placed for size in sizes}
    came = None
    if all_cut or state.tally.signed_off:
        came = donor.compared(in_all, sum(usable.values()))
    return part.DonorSummary(
        expected=in_all,
        usable=sum(usable.values()),
        difference=came and came.difference,
        difference_share=came and came.share,
        expected_by_size=by_size,
        usable_by_size=usable,
        unassigned_share=donor.unassigned_share(expected),
    )
