"""The parts of a summary: what is told of a case, field by field, with the unit beside each figure."""

from __future__ import annotations

from typing import Annotated, Literal

from orroom.case.terms import ZoneKind
from orroom.figures.holding import WhyUnknown
from orroom.summary.closing_parts import CountedPile, CountMade, FinalCount, LeftOpen, SignOff
from orroom.summary.figure_parts import (
    DivisionLossSummary,
    DryingSummary,
    FollicleSummary,
    OutOfBodySummary,
    PaceSummary,
    PersonPace,
    Progress,
    ProjectedYield,
    QualityByHour,
    QualityByPerson,
    QualitySummary,
    WaitingPoint,
)
from orroom.summary.paper_parts import PaperCount
from orroom.summary.recorded_parts import (
    Break,
    CarePause,
    CareSummary,
    CareTime,
    Correction,
    DiscardSummary,
    Remark,
    Revision,
    Span,
    SpotCheck,
    SpotCheckTotal,
)
from orroom.summary.units import (
    Amount,
    Area,
    BySize,
    Duration,
    Expected,
    ExpectedBySize,
    Grafts,
    GraftsPerCm2,
    Hairs,
    HairsPerCm2,
    HairsPerGraft,
    Moment,
    Part,
    Share,
)

#: How much of a summary is told: everything, roles instead of people, or nothing that names anybody.
ShareLevel = Literal["full", "roles", "anonymous"]


class Accounts(Part):
    """Where grafts came from and where they are.

    They add up when ``cut + divided_in = dish + bench + placed + discarded + divided_out + missing``, none
    but ``missing`` is below 0, and no hand count is left to explain.
    """

    cut: Grafts
    divided_in: Grafts
    dish: Grafts
    bench: Grafts
    placed: Grafts
    discarded: Grafts
    divided_out: Grafts
    missing: Grafts
    adds_up: bool


class LotAccounts(Accounts):
    """The accounts of one size of one lot."""

    lot: str
    size: str


class Counts(Accounts):
    """Accounts beside the plan, in grafts and hairs. Usable: in dishes, on the bench or placed."""

    planned: Grafts
    owed: Grafts
    hairs_planned: Hairs
    hairs_usable: Hairs
    hairs_placed: Hairs


class SizeCounts(Counts):
    """The counts of one size."""

    size: str
    label: str
    hairs_per_graft: HairsPerGraft


class AllCounts(Counts):
    """The counts of all sizes together, and mean hairs per graft.

    ``hairs_lost_dividing`` is ``None`` once a multi-unit graft was divided: its hairs are only a mean.
    """

    hairs_per_graft_planned: HairsPerGraft
    hairs_per_graft_usable: HairsPerGraft
    hairs_per_graft_placed: HairsPerGraft
    hairs_lost_dividing: Annotated[Hairs | None, "hairs"]


class ZoneSummary(Part):
    """What one zone got against what the plan promised it."""

    zone: str
    label: str
    kind: ZoneKind | None
    area_cm2: Area
    planned: BySize
    placed: BySize
    owed: BySize
    over: BySize
    grafts_planned: Grafts
    grafts_placed: Grafts
    grafts_owed: Grafts
    grafts_over: Grafts
    hairs_planned: Hairs
    hairs_placed: Hairs
    planned_grafts_per_cm2: GraftsPerCm2
    placed_grafts_per_cm2: GraftsPerCm2
    planned_hairs_per_cm2: HairsPerCm2
    placed_hairs_per_cm2: HairsPerCm2
    sites_made: Annotated[int | None, "sites"]
    sites_free: Annotated[int | None, "sites"]
    reseated: Grafts


class LotSummary(Part):
    """When a lot left the body, and how long it was out: at the end of the work, and when it was placed.

    ``out_unknown`` says why the times are not known, ``None`` where they are.
    """

    lot: str
    label: str
    harvest_started: Moment | None
    harvest_ended: Moment | None
    segments_done: Annotated[int, "segments"]
    segments: Annotated[int | None, "segments"]
    cut: Grafts
    waiting: Grafts
    waiting_out_ms: Duration
    out_unknown: WhyUnknown | None
    placed: Grafts
    mean_out_at_placing_ms: Duration
    longest_out_at_placing_ms: Duration


class PersonSummary(Part):
    """What one person entered, corrected entries left out of the grafts but not of ``entries``.

    ``cut`` is without those spoilt in cutting, which are among ``discarded``.
    """

    who: str
    role: str | None
    entries: Annotated[int, "entries"]
    cut: BySize
    placed: BySize
    divided: BySize
    discarded: BySize


class DonorSummary(Part):
    """What the plan expected of the donor area and what is usable so far; the difference once all is cut."""

    expected: Expected
    usable: Grafts
    difference: Annotated[Expected | None, "grafts"]
    difference_share: Share
    expected_by_size: ExpectedBySize
    usable_by_size: BySize
    unassigned_share: Share


class MismatchSummary(Part):
    """A mismatch, how much it concerns in its unit, and its explanation, ``None`` while it is open."""

    mismatch: str
    amount: Amount
    unit: str
    sentence: str
    explanation: str | None


class Summary(Part):
    """A whole case as it stands at its last entry; what goes on with time is told at the end of the work.

    ``format`` goes up with every change of what is told; ``test_summary.py`` holds a fingerprint of it.
    ``not_sound`` says what is wrong with the record, ``None`` where nothing was found wrong.
    """

    format: Literal[4] = 4
    share_level: ShareLevel = "full"
    not_sound: str | None
    cautions: tuple[str, ...]
    case: str
    title: str | None
    opened: Moment
    opened_by: str
    last_entry: Moment
    start_of_work: Moment | None
    end_of_work: Moment
    utc_offset_minutes: Annotated[int, "min"]
    entries: Annotated[int, "entries"]
    head: str | None
    status: Literal["open", "signed off"]
    signed_off: SignOff | None
    earlier_sign_offs: tuple[SignOff, ...]
    left_open: tuple[LeftOpen, ...]
    final_count: FinalCount | None
    counts_made: tuple[CountMade, ...]
    counted: tuple[CountedPile, ...]
    reopened: tuple[Remark, ...]
    paper_count: tuple[PaperCount, ...] = ()
    adds_up: bool
    sizes: tuple[SizeCounts, ...]
    in_all: AllCounts
    accounts: tuple[LotAccounts, ...]
    zones: tuple[ZoneSummary, ...]
    lots: tuple[LotSummary, ...]
    remark_on_lots: str
    out_of_body: tuple[OutOfBodySummary, ...]
    out_of_body_reference: str
    out_of_body_limit_ms: Duration
    waiting_curve: tuple[WaitingPoint, ...]
    drying: DryingSummary | None
    times: tuple[Span, ...]
    progress: tuple[Progress, ...]
    pace: tuple[PaceSummary, ...]
    pace_by_person: tuple[PersonPace, ...]
    care_until: Moment
    care: tuple[CareSummary, ...]
    care_given: tuple[CareTime, ...]
    care_paused: tuple[CarePause, ...]
    people: tuple[PersonSummary, ...]
    discards: tuple[DiscardSummary, ...]
    quality: tuple[QualitySummary, ...]
    quality_by_person: tuple[QualityByPerson, ...]
    quality_by_hour: tuple[QualityByHour, ...]
    follicles: FollicleSummary | None
    division_losses: tuple[DivisionLossSummary, ...]
    donor: DonorSummary | None
    projected: tuple[ProjectedYield, ...]
    mismatches: tuple[MismatchSummary, ...]
    revisions: tuple[Revision, ...]
    corrections: tuple[Correction, ...]
    spot_check_totals: tuple[SpotCheckTotal, ...]
    spot_checks: tuple[SpotCheck, ...]
    notes: tuple[Remark, ...]
    breaks: tuple[Break, ...]


def warnings(not_sound: str | None) -> tuple[str, ...]:
    """The caution that stands before all others where the record is not sound."""
    return () if not_sound is None else (f"THE RECORD IS NOT SOUND. {not_sound}",)
