"""The remarks on a plan before the first incision: one function a rule, listed in ``CHECKS``.

A remark never refuses a plan. A rule that depends on what a zone is says nothing of zones without a ``kind``.
There is no rule that the vertex must be planned if anything lies below the vertex transition: whatever lies
there is a zone of the kind ``vertex``, and so is in the plan.
"""

from collections.abc import Callable, Iterator
from math import ceil
from typing import Final, NamedTuple

from orroom.case.plan import Plan, Zone
from orroom.case.terms import ZoneKind
from orroom.figures.density import planned_grafts_per_cm2, planned_hairs
from orroom.figures.earlier import (
    advise_codes_of_one_patient,
    advise_earlier_zones_and_sizes_in_plan,
    kept_by_size,
    still_expected,
    still_expected_by_size,
)
from orroom.figures.edges import (
    MOST_DENSITY_STEP,
    MOST_HAIRS_PER_CM2_STEP,
    MOST_HAIRS_PER_GRAFT_STEP,
    advise_combing_side_as_full,
    advise_gradual_density,
    advise_gradual_hairs_per_cm2,
    advise_gradual_hairs_per_graft,
    advise_upper_arc_first,
    without_neighbours,
)
from orroom.figures.existing_hair import HAIRS_PER_UNIT, JAMMING, advise_sites_that_fit
from orroom.figures.replan.problem import ROUNDING
from orroom.figures.wording import decimal, grafts, percent, several

COMMON_PRACTICE: Final = "common practice, no source"

#: Two or three placers at once, each about this fast, dropping sharply near the end: Hair Transplantation,
#: 5th ed. 2010, Stick and Place Method of Placing Grafts.
PLACED_PER_PLACER_HOUR: Final = 400

#: 2,500 grafts took 30 to 40 person-hours in all (a clinic's report, second-hand): at the slower end, 62.5 a
#: person-hour.
GRAFTS_PER_PERSON_HOUR: Final = 2500 / 40

#: Grafts per cm² in a scar, in one session. Common practice, no source; of about 35 in 15 patients 81 %
#: survived (BioMed Res Int 2019;3423657, abstract read).
MOST_IN_SCARS_PER_CM2: Final = 20

#: From the front to the back. Temporal zones, the lateral hump, part lines and scars lie next to these.
FRONT_TO_BACK: Final[tuple[ZoneKind, ...]] = (
    "hairline",
    "frontal",
    "mid-scalp",
    "vertex-transition",
    "vertex",
)

#: Kinds of zone where a multi-unit graft would be seen.
WITHOUT_MULTI_UNIT: Final[tuple[ZoneKind, ...]] = ("hairline", "temporal", "lateral-hump", "part-line")


class Advice(NamedTuple):
    """What a rule has to say, the rule's name, the reason for it, and where the reason comes from."""

    rule: str
    sentence: str
    reason: str
    source: str


class Check(NamedTuple):
    """A rule of the table: what finds what it has to say, why it is made, and where that comes from."""

    find: Callable[[Plan], Iterator[str]]
    reason: str
    source: str

    @property
    def name(self) -> str:
        """The rule's name, which is that of its function."""
        return str(getattr(self.find, "__name__", ""))


def advice_on(plan: Plan) -> tuple[Advice, ...]:
    """All advice on a plan, in the order of ``CHECKS``."""
    return tuple(
        Advice(check.name, sentence, check.reason, check.source)
        for check in CHECKS
        for sentence in check.find(plan)
    )


def advise_only_ones_in_hairline(plan: Plan) -> Iterator[str]:
    """Only 1-hair grafts in the front of the hairline. Multi-unit grafts there are another rule's."""
    for zone in _planted(plan):
        larger = {size: count for size, count in zone.planned.items() if size in "234" and count}
        if zone.kind == "hairline" and larger:
            counts = ", ".join(f"{grafts(count)} × {size}" for size, count in sorted(larger.items()))
            yield f"{zone.label}: {counts} planned as well as ones"


def advise_no_multi_unit_where_seen(plan: Plan) -> Iterator[str]:
    """No multi-unit grafts in hairline, temporal or lateral-hump zones, or along the part line."""
    for zone in _planted(plan):
        multi = zone.planned.get("M", 0)
        if zone.kind in WITHOUT_MULTI_UNIT and multi:
            yield f"{zone.label}: {several(multi, 'multi-unit graft')} planned"


def advise_sizes_within_donor_estimate(plan: Plan) -> Iterator[str]:
    """No more grafts planned than the donor estimate gives, by size and in all."""
    if plan.donor is None:
        return
    expected, kept = still_expected_by_size(plan), kept_by_size(plan)
    for size in plan.sizes:
        given = expected.get(size.key, 0.0)
        yield from _beyond_donor(f"size {size.key}", plan.planned(size.key), given, kept.get(size.key, 0))
    yield from _beyond_donor("in all", plan.planned(), still_expected(plan), sum(kept.values()))


def _beyond_donor(what: str, planned: int, given: float, kept: int) -> Iterator[str]:
    if planned > ceil(given) + kept:
        also = f", {grafts(kept)} kept from an earlier case" if kept else ""
        yield f"{what}: {grafts(planned)} planned, {decimal(given, 0)} expected from the donor{also}"


def advise_density_up_to_dense_packing(plan: Plan) -> Iterator[str]:
    """No zone denser than the mark of dense packing, by more than the rounding to whole grafts."""
    mark = plan.limits.dense_grafts_per_cm2
    for zone in _planted(plan):
        if sum(zone.planned.values()) > ceil(mark * zone.measured_cm2):
            density = decimal(planned_grafts_per_cm2(zone))
            yield f"{zone.label}: {density} grafts/cm², above the limit of {mark:g}"


def advise_bounds_of_zones_kept(plan: Plan) -> Iterator[str]:
    """No zone below its own least hairs per cm² or above its own most grafts per cm²."""
    for zone in _planted(plan):
        hairs, least = planned_hairs(plan, zone) / zone.measured_cm2, zone.least_hairs_per_cm2
        if least is not None and hairs < least - ROUNDING:
            yield f"{zone.label}: {decimal(hairs)} hairs/cm² planned, below its least of {least:g}"
        density, most = sum(zone.planned.values()) / zone.measured_cm2, zone.most_grafts_per_cm2
        if most is not None and density > most + ROUNDING:
            yield f"{zone.label}: {decimal(density)} grafts/cm² planned, above its most of {most:g}"


def advise_few_grafts_in_scars(plan: Plan) -> Iterator[str]:
    """No scar planted as densely as skin that is not scarred."""
    for zone in _planted(plan):
        if zone.kind == "scar" and sum(zone.planned.values()) > ceil(
            MOST_IN_SCARS_PER_CM2 * zone.measured_cm2
        ):
            density = decimal(planned_grafts_per_cm2(zone))
            yield f"{zone.label}: {density} grafts/cm², in a scar; {MOST_IN_SCARS_PER_CM2} is usual at most"


def advise_placing_front_to_back(plan: Plan) -> Iterator[str]:
    """Zones placed from front to back; sides are left out."""
    hindmost: Zone | None = None
    for zone in _planted(plan):
        depth = _depth(zone)
        if depth is None:
            continue
        if hindmost is not None and depth < (_depth(hindmost) or 0):
            yield f"{zone.label} ({zone.kind}) is placed after {hindmost.label} ({hindmost.kind})"
        else:
            hindmost = zone


def advise_team_that_finishes_in_time(plan: Plan) -> Iterator[str]:
    """A team that finishes in time at published rates; nothing on a plan that names no placer or cutter."""
    team, limit = team_of(plan), plan.limits.day_hours
    work = (
        ("placing", team.placers, "placer", team.placing_hours),
        ("cutting and placing", team.people, "person", team.all_work_hours),
    )
    for what, people, noun, hours in work:
        if hours is not None and hours > limit:
            who = several(people, noun, "people" if noun == "person" else None)
            yield (
                f"{what} {grafts(plan.planned())} grafts takes {who} {decimal(hours)} h, above {limit:g} h"
            )


class Team(NamedTuple):
    """The cutters and placers a plan names, and how long its grafts take them at published rates.

    ``placing_hours`` is grafts / (placers × 400 an hour), ``None`` without placers. ``all_work_hours`` is
    grafts / (cutters and placers × 62.5 an hour), as if all had work all the time; ``None`` without both.
    Sources at ``PLACED_PER_PLACER_HOUR`` and ``GRAFTS_PER_PERSON_HOUR``.
    """

    placers: int
    people: int
    placing_hours: float | None
    all_work_hours: float | None


def team_of(plan: Plan) -> Team:
    """The team of a plan, at published rates."""
    roles = [person.role for person in plan.staff]
    placers, cutters = roles.count("placing"), roles.count("cutting")
    people, planned = placers + cutters, plan.planned()
    return Team(
        placers,
        people,
        planned / (placers * PLACED_PER_PLACER_HOUR) if placers else None,
        planned / (people * GRAFTS_PER_PERSON_HOUR) if placers and cutters else None,
    )


#: Every rule, in the order shown.
CHECKS: Final = (
    Check(
        advise_only_ones_in_hairline,
        "grafts of several hairs at the very front are seen one by one",
        COMMON_PRACTICE,
    ),
    Check(
        advise_no_multi_unit_where_seen,
        "a multi-unit graft is seen as a tuft at the front, at the sides and along the part",
        COMMON_PRACTICE,
    ),
    Check(
        advise_gradual_density,
        f"a step of more than {percent(MOST_DENSITY_STEP)} of the denser zone may be seen as an edge",
        COMMON_PRACTICE,
    ),
    Check(
        advise_gradual_hairs_per_graft,
        f"a step of more than {decimal(MOST_HAIRS_PER_GRAFT_STEP)} hairs per graft may be seen as an edge",
        COMMON_PRACTICE,
    ),
    Check(
        advise_gradual_hairs_per_cm2,
        f"a step of more than {percent(MOST_HAIRS_PER_CM2_STEP)} of the denser zone may be seen as an edge",
        COMMON_PRACTICE,
    ),
    Check(
        advise_upper_arc_first,
        "hair of the upper arc falls over what lies below it",
        COMMON_PRACTICE,
    ),
    Check(
        advise_combing_side_as_full,
        "the side that hair is combed from is seen uncovered",
        COMMON_PRACTICE,
    ),
    Check(
        advise_sites_that_fit,
        f"hair there, taken as units of {decimal(HAIRS_PER_UNIT, 2)}, and sites that keep their distance at"
        f" random cover {JAMMING} of the skin at most; rows that hair and sites share would take more",
        "hairs in a unit: Dermatol Surg 2017;43(5); share covered: J Theor Biol 1980;87:237 (not verified);"
        " 1 mm where the plan sets no distance: " + COMMON_PRACTICE,
    ),
    Check(
        advise_bounds_of_zones_kept,
        "a zone that gives its own least or most is planned outside it, and a re-plan will move it there",
        "arithmetic of the plan's own figures",
    ),
    Check(
        advise_sizes_within_donor_estimate,
        "grafts the donor does not yield must come from dividing larger ones, or the plan stays short",
        "arithmetic of the plan's own figures",
    ),
    Check(
        advise_codes_of_one_patient,
        "a case that is not of this patient would bring foreign grafts and figures",
        COMMON_PRACTICE,
    ),
    Check(
        advise_earlier_zones_and_sizes_in_plan,
        "what an earlier case placed is shown next to the plan's own zones and sizes",
        "arithmetic of the plan's own figures",
    ),
    Check(
        advise_density_up_to_dense_packing,
        "published as dense packing; the limit is the surgeon's own, set in the plan",
        "above 30: Dermatol Surg 2008;34(8):1016–1025; from 28: doi 10.1007/978-4-431-99659-0_32 (2010)",
    ),
    Check(
        advise_few_grafts_in_scars,
        "a scar has less blood supply, and many sites at once take more of it",
        COMMON_PRACTICE,
    ),
    Check(
        advise_placing_front_to_back,
        "if grafts run out, the back goes short and not the front",
        COMMON_PRACTICE,
    ),
    Check(
        advise_team_that_finishes_in_time,
        f"at {PLACED_PER_PLACER_HOUR} grafts an hour for each placer,"
        f" {GRAFTS_PER_PERSON_HOUR:g} grafts a person-hour for all work;"
        " the length of the day is the surgeon's own, set in the plan",
        "placers: Hair Transplantation, 5th ed. 2010, Stick and Place Method of Placing Grafts; all work: a"
        " clinic's published report (citation not verified); length of the day: " + COMMON_PRACTICE,
    ),
)


def _planted(plan: Plan) -> Iterator[Zone]:
    """Zones that get grafts, in placing order."""
    yield from (zone for zone in plan.zones if sum(zone.planned.values()))


def left_out(plan: Plan) -> Iterator[str]:
    """Which zones some of the rules say nothing of, because the plan does not say enough of them."""
    if unknown := [zone.label for zone in plan.zones if zone.kind is None]:
        yield f"No kind given, so some checks skip: {', '.join(unknown)}"
    if alone := [zone.label for zone in without_neighbours(plan)]:
        yield f"No neighbours given, so steps are not checked: {', '.join(alone)}"


def _depth(zone: Zone) -> int | None:
    """How far back a zone lies, 0 at the front; ``None`` at the sides and where its kind is not given."""
    return FRONT_TO_BACK.index(zone.kind) if zone.kind in FRONT_TO_BACK else None
