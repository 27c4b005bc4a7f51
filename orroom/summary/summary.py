"""A case as it is at its last entry. Pure: the same record gives the same summary, byte for byte.

No clock is read: "now" is the end of the work. Each topic has its own module: its part and how it is made.
"""

from collections.abc import Sequence
from typing import Annotated, Final, Literal

from pydantic import Field

from orroom.case.state import CaseState
from orroom.case.traits import Trait, held
from orroom.errors import OrroomError
from orroom.figures.pace.work import end_of_work_ms, start_of_work_ms
from orroom.figures.punctuality import care_until_ms
from orroom.figures.quality import not_entered
from orroom.figures.survival import SURVIVAL_REFERENCE
from orroom.summary import (
    care,
    cautions,
    changes,
    drying,
    earlier,
    fates,
    final_count,
    grafts,
    hands,
    harvests,
    limits,
    losses,
    mismatches,
    notes,
    out_of_body,
    pace,
    paper_count,
    people,
    quality,
    sign_off,
    spot_checks,
    yields,
    zones,
)
from orroom.summary.care import CareMissed, CarePause, CareSummary, CareTime
from orroom.summary.changes import Correction, Revision
from orroom.summary.drying import DryingSummary
from orroom.summary.earlier import EarlierCase, KeptGrafts
from orroom.summary.fates import FateSummary
from orroom.summary.fields import Duration, Moment, Ours, Part, Person, Text
from orroom.summary.final_count import CountedGroup, CountMade, FinalCount
from orroom.summary.grafts import AllCounts, HarvestAccounts, SizeCounts
from orroom.summary.hands import ZoneHands
from orroom.summary.harvests import HarvestSummary
from orroom.summary.limits import BrokenLimit
from orroom.summary.losses import DiscardSummary, DivisionAsked, DivisionLossSummary
from orroom.summary.mismatches import MismatchSummary
from orroom.summary.notes import Remark
from orroom.summary.out_of_body import OutOfBodySummary, SizeTimesOut, WaitingPoint, ZoneTimesOut
from orroom.summary.pace import PaceSummary, PersonPace, Progress, Span
from orroom.summary.paper_count import PaperCount, PaperRow
from orroom.summary.people import Break, OpenedWith, PersonSummary
from orroom.summary.quality import (
    FaultByHour,
    FaultByPerson,
    FaultSummary,
    FollicleSummary,
    QualityByHour,
    QualityByPerson,
    QualitySummary,
)
from orroom.summary.sign_off import LeftOpen, SignOff, StillOpen
from orroom.summary.spot_checks import SpotCheck, SpotCheckTotal
from orroom.summary.yields import DonorSummary, ProjectedYield
from orroom.summary.zones import ZoneSummary

#: How much a summary shows: everything, roles instead of people, or nothing that names anybody.
ShareLevel = Literal["full", "roles", "anonymous"]
#: 0001-01-02 and 9999-12-30, 00:00 UTC: before and after is not a date at every offset.
EARLIEST_MS: Final = -62_135_510_400_000
FARTHEST_MS: Final = 253_402_128_000_000


class Summary(Part):
    """A whole case as it is at its last entry; what goes on with time is shown at the end of the work.

    ``format`` goes up with every change of what is shown; ``test_summary.py`` has a fingerprint of it.
    ``not_intact`` says what is wrong with the record, ``None`` where nothing was found wrong.
    """

    format: Literal[6] = Field(default=6, description="version of this summary's fields")
    share_level: ShareLevel = Field(
        default="full", description="full; roles instead of initials; or anonymous"
    )
    not_intact: Annotated[str | None, Text.OURS] = Field(
        description="what is wrong with the record; none if it passed"
    )
    cautions: tuple[str, ...] = Field(description="warnings to read first")
    case: Ours = Field(description="the case's code")
    title: str | None = Field(description="the plan's title")
    opened: Moment = Field(description="when the case was opened")
    opened_by: Person = Field(description="who opened it")
    last_entry: Moment = Field(description="when the last entry was made")
    start_of_work: Moment | None = Field(
        description="when the first harvest began, or the first other work was done; none before any"
    )
    end_of_work: Moment = Field(
        description="end of work, or the last entry while it goes on; the 'now' of all figures"
    )
    utc_offset_minutes: Annotated[int, "min"] = Field(description="the case's clock minus UTC")
    entries: Annotated[int, "entries"] = Field(description="entries made, cancelled ones included")
    seal: Annotated[str | None, Text.OURS] = Field(
        description="hash of the last entry, which depends on all before it"
    )
    status: Literal["open", "signed off"] = Field(description="open, or signed off")
    signed_off: SignOff | None = Field(description="who closed the case")
    earlier_sign_offs: tuple[SignOff, ...] = Field(description="earlier sign-offs, each ended by a reopening")
    still_open: tuple[StillOpen, ...] = Field(description="what is open now")
    left_open: tuple[LeftOpen, ...] = Field(description="what each sign-off left open")
    final_count: FinalCount | None = Field(description="the two valid counts")
    counts_made: tuple[CountMade, ...] = Field(description="every count made")
    counted: tuple[CountedGroup, ...] = Field(description="every group, compared with the tally")
    fates: tuple[FateSummary, ...] = Field(description="what became of the grafts left at the end")
    earlier_cases: tuple[EarlierCase, ...] = Field(
        description="earlier cases of the same patient, by their own records"
    )
    kept_grafts: tuple[KeptGrafts, ...] = Field(description="grafts that the case before kept for this one")
    reopened: tuple[Remark, ...] = Field(description="why the case was opened again")
    paper_count: tuple[PaperCount, ...] = Field(
        default=(), description="a paper count, compared with the record"
    )
    adds_up: bool = Field(
        description="whether every graft is accounted for, no count is below 0, and no mismatch is open"
    )
    sizes: tuple[SizeCounts, ...] = Field(description="counts by size")
    in_all: AllCounts = Field(description="counts of all sizes")
    accounts: tuple[HarvestAccounts, ...] = Field(description="where the grafts of each harvest and size are")
    zones: tuple[ZoneSummary, ...] = Field(description="what each zone got")
    harvests: tuple[HarvestSummary, ...] = Field(description="when each harvest left the body")
    remark_on_harvests: Ours = Field(description="what is not known about harvests")
    out_of_body: tuple[OutOfBodySummary, ...] = Field(
        description="times out of the body; low and high where harvests mix"
    )
    out_of_body_sizes: tuple[SizeTimesOut, ...] = Field(
        description="times out of the body and times waiting, by size"
    )
    out_of_body_zones: tuple[ZoneTimesOut, ...] = Field(
        description="times out of the body of the grafts placed in each zone"
    )
    out_of_body_reference: Ours = Field(description="published survival, with its source; not a prediction")
    out_of_body_limit_ms: Duration = Field(
        description="the surgeon's limit of the time out of the body; none if not set"
    )
    waiting_curve: tuple[WaitingPoint, ...] = Field(
        description="share not yet placed, by time out of the body"
    )
    drying: DryingSummary | None = Field(description="how long grafts lay with the placers without wetting")
    times: tuple[Span, ...] = Field(description="first and last entry of each task")
    progress: tuple[Progress, ...] = Field(description="grafts cut and placed over the day")
    pace: tuple[PaceSummary, ...] = Field(description="pace of each task, breaks left out")
    pace_by_person: tuple[PersonPace, ...] = Field(description="pace of each person")
    care_until: Moment = Field(
        description="until when care was due: the last graft placed if none is owed, or the end of work"
    )
    care: tuple[CareSummary, ...] = Field(description="care round")
    care_given: tuple[CareTime, ...] = Field(description="each round given")
    care_missed: tuple[CareMissed, ...] = Field(description="each round that fell due and was not given")
    care_paused: tuple[CarePause, ...] = Field(description="prompts that were paused")
    broken_limits: tuple[BrokenLimit, ...] = Field(
        description="limits of the plan that were broken, and what was done"
    )
    people: tuple[PersonSummary, ...] = Field(description="what each person did")
    opened_with: tuple[OpenedWith, ...] = Field(
        default=(), description="versions of orroom with which stations were opened"
    )
    zone_hands: tuple[ZoneHands, ...] = Field(description="who made sites and who placed, by zone")
    discards: tuple[DiscardSummary, ...] = Field(description="grafts discarded, by reason")
    quality: tuple[QualitySummary, ...] = Field(description="shares with 95 % ranges")
    not_entered: tuple[str, ...] = Field(
        description="measures of which nothing was entered, which does not mean that there was none"
    )
    quality_by_person: tuple[QualityByPerson, ...] = Field(description="the same by person")
    quality_by_hour: tuple[QualityByHour, ...] = Field(description="the same by hour")
    faults: tuple[FaultSummary, ...] = Field(description="faults that spot checks found")
    faults_by_person: tuple[FaultByPerson, ...] = Field(description="the same by person")
    faults_by_hour: tuple[FaultByHour, ...] = Field(description="the same by hour")
    follicles: FollicleSummary | None = Field(description="follicles seen in spot checks")
    division_losses: tuple[DivisionLossSummary, ...] = Field(
        description="hairs lost where grafts were divided"
    )
    divisions_asked: tuple[DivisionAsked, ...] = Field(
        description="what accepted re-plans asked to divide, and what was divided"
    )
    donor: DonorSummary | None = Field(description="expected donor yield")
    projected: tuple[ProjectedYield, ...] = Field(
        description="usable grafts forecast from the finished segments"
    )
    mismatches: tuple[MismatchSummary, ...] = Field(
        description="where the record disagrees with the plan or itself"
    )
    revisions: tuple[Revision, ...] = Field(description="how the plan changed")
    corrections: tuple[Correction, ...] = Field(
        description="cancelled entries, and placings moved to another zone"
    )
    spot_check_totals: tuple[SpotCheckTotal, ...] = Field(description="spot checks added up")
    spot_checks: tuple[SpotCheck, ...] = Field(description="each spot check")
    notes: tuple[Remark, ...] = Field(description="notes")
    breaks: tuple[Break, ...] = Field(description="breaks")


def summarise(state: CaseState, seal: str | None = None, not_intact: str | None = None) -> Summary:
    """The summary of a case, with the hash that its record ends in.

    ``not_intact`` says what is wrong with that record; it is the first caution too.
    Raises ``OrroomError`` before the case is opened, and for a time that is in no calendar.
    """
    if state.tally.plan is None:
        raise OrroomError(
            "The case has not been opened yet, so there is nothing to summarise.",
            "Open it with its plan first.",
        )
    refuse_times_in_no_calendar(state)
    plan, opened = state.plan, state.log[0]
    accounts = grafts.harvest_accounts(state)
    by_size = grafts.by_size(state, accounts)
    whole = grafts.in_all(state, by_size)
    in_zones = zones.zones(state)
    by_harvest = harvests.harvests(state)
    checks = spot_checks.spot_checks(state)
    return Summary(
        not_intact=not_intact,
        cautions=cautions.cautions(state, not_intact),
        case=plan.case,
        title=plan.title,
        opened=opened.stamp.at_ms,
        opened_by=opened.stamp.who,
        last_entry=state.log[-1].stamp.at_ms,
        start_of_work=start_of_work_ms(state),
        end_of_work=end_of_work_ms(state),
        utc_offset_minutes=state.tally.utc_offset_minutes,
        entries=len(state.log),
        seal=seal,
        status="signed off" if state.tally.signed_off else "open",
        signed_off=sign_off.sign_off(state),
        earlier_sign_offs=sign_off.earlier_sign_offs(state),
        still_open=sign_off.still_open(state),
        left_open=sign_off.left_open(state),
        final_count=final_count.final_count(state),
        counts_made=final_count.counts_made(state),
        counted=final_count.counted(state),
        fates=fates.fates(state),
        earlier_cases=earlier.earlier_cases(state),
        kept_grafts=earlier.kept_grafts(state),
        reopened=sign_off.reopenings(state),
        adds_up=grafts.adds_up(state, accounts, by_size, whole, in_zones),
        sizes=by_size,
        in_all=whole,
        accounts=accounts,
        zones=in_zones,
        harvests=by_harvest,
        remark_on_harvests=harvests.REMARK_ON_HARVESTS,
        out_of_body=out_of_body.out_of_body(state),
        out_of_body_sizes=out_of_body.out_by_size(state),
        out_of_body_zones=out_of_body.out_by_zone(state),
        out_of_body_reference=SURVIVAL_REFERENCE,
        out_of_body_limit_ms=out_of_body.out_of_body_limit_ms(state),
        waiting_curve=out_of_body.waiting_curve(state),
        drying=drying.drying(state),
        times=pace.spans(state),
        progress=pace.progress(state),
        pace=pace.pace(state),
        pace_by_person=pace.pace_by_person(state),
        care_until=care_until_ms(state),
        care=care.care_rounds(state),
        care_given=care.care_times(state),
        care_missed=care.care_missed(state),
        care_paused=care.care_pauses(state),
        broken_limits=limits.limits(state),
        people=people.people(state),
        opened_with=people.opened_with(state),
        zone_hands=hands.zone_hands(state),
        discards=losses.discards(state),
        quality=quality.quality(state),
        not_entered=not_entered(state),
        quality_by_person=quality.quality_by_person(state),
        quality_by_hour=quality.quality_by_hour(state),
        faults=quality.faults(state),
        faults_by_person=quality.faults_by_person(state),
        faults_by_hour=quality.faults_by_hour(state),
        follicles=quality.follicles(state),
        division_losses=losses.division_losses(state),
        divisions_asked=losses.divisions_asked(state),
        donor=yields.donor(state, by_size, by_harvest),
        projected=yields.projected(state),
        mismatches=mismatches.mismatches(state),
        revisions=changes.revisions(state),
        corrections=changes.corrections(state),
        spot_check_totals=spot_checks.spot_check_totals(checks),
        spot_checks=checks,
        notes=notes.notes(state),
        breaks=people.breaks(state),
    )


def with_paper(summary: Summary, rows: Sequence[PaperRow]) -> Summary:
    """The summary with the paper. Raises ``OrroomError`` for a size that the plan does not have."""
    on_paper = paper_count.compared(rows, summary.sizes, summary.in_all)
    cautions = (*summary.cautions, *paper_count.contradictions(on_paper))
    return summary.model_copy(update={"paper_count": on_paper, "cautions": cautions})


def refuse_times_in_no_calendar(state: CaseState) -> None:
    """Raise ``OrroomError`` for an entry with a time that no calendar has."""
    for entry in state.log:
        for at_ms in (entry.stamp.at_ms, *held(entry.event, Trait.TIME)):
            if not EARLIEST_MS <= at_ms <= FARTHEST_MS:
                raise OrroomError(
                    f"Entry {entry.seq} has a time outside any calendar: {at_ms} ms.",
                    "Such a case cannot be summed up; orroom verify shows whether its record is intact.",
                )
