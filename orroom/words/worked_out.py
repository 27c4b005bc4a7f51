"""How each figure on a screen is worked out: in words, with the numbers that went in, and its source.

Each figure is one function, listed in ``FIGURES`` with the roles whose screens show it.
"""

from collections.abc import Callable
from functools import partial

from orroom.case.care import with_placers_since_ms
from orroom.case.harvests import out_since_ms
from orroom.case.plan import Plan, Zone
from orroom.case.state import HarvestClock
from orroom.case.terms import WORKS, Role, size_named
from orroom.figures.case_times import case_times
from orroom.figures.counts import by_size, by_zone, done_by, total, zone_count
from orroom.figures.density import density_of
from orroom.figures.earlier import Before, before_by_zone, before_in
from orroom.figures.holding import harvest_ages, harvests_unknown, oldest_out
from orroom.figures.next_zone import next_zone, sized, wanted_next
from orroom.figures.prompts import prompts
from orroom.figures.quality import ALIKE, SPOILT, quality
from orroom.figures.wording import (
    clock_time,
    decimal,
    grafts,
    harvests_listed,
    how_long,
    marked,
    minutes_seconds,
    percent,
)
from orroom.words import worked_out_forecast as rest
from orroom.words import worked_out_times as out
from orroom.words.explanation import TALLY, Asked, Explanation
from orroom.words.flow import HOW, SOURCE, reasons, said


def worked_out(role: Role, asked: Asked) -> tuple[Explanation, ...]:
    """Every figure of a role's screen that there is now, in the order in which it is read."""
    found = [figure(asked) for roles, figure in FIGURES if role in roles]
    return tuple(each for each in found if each is not None)


def _cut(asked: Asked) -> Explanation:
    count = total(by_size(asked.state))
    counted = f"+ {grafts(-count.not_found)}" if count.not_found < 0 else f"− {grafts(count.not_found)} not"
    kept = f"{grafts(count.kept_before)} kept from an earlier case + " if count.kept_before else ""
    return Explanation(
        "USABLE",
        marked(count.usable, count.short),
        "Usable grafts: in dishes, with the placers or placed.",
        f"{kept}{grafts(count.cut_in_all)} cut + {grafts(count.divided_in)} pieces of divided grafts "
        f"− {grafts(count.divided_out)} divided − {grafts(count.discarded)} discarded "
        f"{counted} found by hand count; planned: {grafts(count.planned)}",
        TALLY,
    )


def _placed(asked: Asked) -> Explanation:
    count = total(by_size(asked.state))
    share = percent(count.placed / count.planned) if count.planned else "no plan"
    return Explanation(
        "PLACED",
        grafts(count.placed),
        "Grafts placed in all zones; reseated ones are not counted again.",
        f"{share} of {grafts(count.planned)} planned; {decimal(count.hairs_placed, 0)} of "
        f"{decimal(count.hairs_planned, 0)} hairs",
        TALLY,
    )


def _waiting(asked: Asked) -> Explanation:
    count = total(by_size(asked.state))
    return Explanation(
        "waiting",
        marked(count.waiting, count.short),
        "Grafts out of the body and not yet placed: in dishes and with the placers.",
        f"{marked(count.dish, count.dish_short)} in dishes + "
        f"{marked(count.with_placers, count.with_placers_short)} with the placers",
        TALLY,
    )


def _left(asked: Asked) -> Explanation:
    count = total(by_size(asked.state))
    over = count.owed - (count.planned - count.placed)
    return Explanation(
        "LEFT TO PLACE",
        grafts(count.owed),
        "Grafts the zones still need by the plan, by size. Surplus in one zone does not offset another.",
        f"{grafts(count.planned)} planned − {grafts(count.placed)} placed + {grafts(over)} over plan",
        TALLY,
    )


def _zones(asked: Asked) -> Explanation:
    found = by_zone(asked.state)
    done = [each.zone.label for each in found if not each.owed_total]
    over = [f"{each.zone.label} {grafts(each.over_total)}" for each in found if each.over_total]
    return Explanation(
        "zones",
        f"{len(done)} of {len(found)} done",
        "○ grafts still owed, ● all planned grafts placed, ▲ a size is over plan; placed/planned.",
        f"done: {', '.join(done) or 'none'}; over plan: {', '.join(over) or 'none'}",
        TALLY,
    )


def _oldest(asked: Asked) -> Explanation | None:
    ages = harvest_ages(asked.state, asked.now_ms)
    oldest, unknown = oldest_out(ages), harvests_unknown(ages)
    if oldest is None and not unknown:
        return None
    times = case_times(asked.state)
    from_what = []
    if oldest is not None:
        began = clock_time(oldest.started_at_ms, times)
        from_what = [f"harvest {oldest.harvest}, {began}; {grafts(oldest.waiting)} waiting"]
    if unknown:
        from_what.append(f"{harvests_listed(unknown.harvests)}: not known, {unknown.why}")
    return Explanation(
        "OLDEST OUT",
        how_long(oldest.out_ms if oldest is not None else None),
        "Time since the start of the oldest harvest with anything still waiting, grafts or tissue.",
        "; ".join(from_what),
        "common practice, no source: every graft of a harvest is timed from the harvest's first tissue",
    )


def _prompts(asked: Asked) -> Explanation | None:
    found = prompts(asked.state, asked.now_ms)
    if not found:
        return None
    times = case_times(asked.state)
    due = "; ".join(f"{each.label} at {clock_time(each.due_at_ms, times)}" for each in found)
    return Explanation(
        "prompts",
        f"{len(found)}",
        "A round is due one interval after it was last given, or after the first harvest began, a reminder "
        "also from the opening or at its time of day; grafts with the placers are due when the oldest has "
        "been there for the plan's limit.",
        f"due: {due}",
        "intervals: the plan. With the placers: 3 minutes of drying did major damage (Dermatol Surg "
        "2000;26(1):25–31)",
    )


def _own(asked: Asked) -> Explanation:
    mine = done_by(asked.state.tally, asked.who, "cut")
    each = (
        ", ".join(f"{grafts(count)} {size_named(size, count)}" for size, count in mine.items()) or "none yet"
    )
    return Explanation(
        "large figures",
        grafts(sum(mine.values())),
        f"What you (initials {asked.who}) cut, by size, without undone taps; the team's count is below.",
        each,
        TALLY,
    )


def _spoilt(asked: Asked) -> Explanation | None:
    mine = [
        each.proportion for each in quality(asked.state) if (each.measure, each.who) == (SPOILT, asked.who)
    ]
    if not mine:
        return Explanation(
            "spoilt",
            "not entered",
            "The share of grafts spoilt while cutting. It is shown once somebody in this case enters one:"
            " that none was entered does not mean that there was none.",
            "none entered so far",
            TALLY,
        )
    (share,) = mine
    ends = "" if share.wilson is None else f"; {percent(share.wilson.low, 1)}–{percent(share.wilson.high, 1)}"
    return Explanation(
        "spoilt",
        percent(share.share, 1),
        f"Grafts spoilt while cutting, out of all that the same person cut, spoilt ones included. {ALIKE}",
        f"{grafts(share.count)} spoilt + {grafts(share.of - share.count)} others = {grafts(share.of)} cut in"
        f" all{ends} (95 % range); as sure as from {grafts(round(share.effective))} single grafts",
        "range: J Am Stat Assoc 1927;22:209–212; for segments: Survey Methodology 1998;24:193–201",
    )


def _harvest(asked: Asked) -> Explanation | None:
    clock = asked.state.tally.harvests.get(asked.harvest, HarvestClock())
    since = out_since_ms(asked.state).get(asked.harvest)
    if since is None:
        return None
    times = case_times(asked.state)
    return Explanation(
        f"harvest {asked.harvest} out",
        how_long(max(0, asked.now_ms - since)),
        "Time since the start of the harvest.",
        f"since {clock_time(since, times)}; segments finished: {len(clock.segments)}",
        "the record",
    )


def _before(plan: Plan, zone: Zone, area_cm2: float) -> str:
    """What earlier cases placed into a zone."""
    before = before_in(plan, zone)
    if not before.grafts:
        return ""
    return f"; not counted here, of earlier cases: {grafts(before.grafts)}{_per_cm2(before, area_cm2)}"


def _earlier(asked: Asked) -> Explanation | None:
    plan = asked.state.plan
    if not plan.sessions:
        return None
    by_zone_before = before_by_zone(plan)
    said = [
        f"{zone.label} {grafts(before.grafts)}{_per_cm2(before, zone.measured_cm2)}"
        for zone in plan.zones
        if (before := by_zone_before.get(zone.key)) is not None
    ]
    return Explanation(
        "placed before",
        grafts(sum(each.grafts for each in by_zone_before.values())),
        "Grafts that earlier cases placed; they count in no other figure here.",
        "; ".join(said),
        f"the records of {', '.join(each.case for each in plan.sessions)}",
    )


def _per_cm2(before: Before, area_cm2: float) -> str:
    """What was placed before in a zone of this area."""
    return f": {decimal(before.grafts / area_cm2)} grafts, {decimal(before.hairs / area_cm2)} hairs per cm²"


def _density(asked: Asked) -> Explanation:
    count = zone_count(asked.state, asked.state.plan.zone_by_key[asked.zone])
    density = density_of(count)
    return Explanation(
        f"{count.zone.label} /cm²",
        f"{decimal(density.placed_grafts_per_cm2)}/{decimal(density.planned_grafts_per_cm2)}",
        "Grafts placed and planned, divided by the zone's area; hairs too, each graft with its size's hairs.",
        f"{grafts(count.placed_total)} and {grafts(count.planned_total)} grafts, "
        f"{decimal(count.hairs_placed, 0)} and {decimal(count.hairs_planned, 0)} hairs, "
        f"{decimal(density.area_cm2)} cm²{_before(asked.state.plan, count.zone, density.area_cm2)}",
        "area or shape in the plan",
    )


def _owed(asked: Asked) -> Explanation:
    count = zone_count(asked.state, asked.state.plan.zone_by_key[asked.zone])
    sites = "sites not entered" if count.sites_made is None else f"{grafts(count.sites_made)} sites made"
    extra = f", {grafts(count.extra)} placed beyond it at the end" if count.extra else ""
    return Explanation(
        f"{count.zone.label} still owed",
        grafts(count.owed_total),
        "Planned minus placed, size by size, never below 0. Free sites are sites made minus grafts placed.",
        f"{grafts(count.planned_total)} planned, {grafts(count.placed_total)} placed, "
        f"{grafts(count.over_total)} over plan{extra}; {sites}",
        TALLY,
    )


def _next(asked: Asked) -> Explanation | None:
    if (found := next_zone(asked.state)) is None:
        return None
    return Explanation(
        "next",
        asked.state.plan.zone_by_key[found.zone].label,
        "The first zone in placing order that needs a size that is waiting, and has a free site where sites "
        "are entered. Left and right of a pair are kept level by share placed. The lead decides.",
        found.reason,
        "common practice, no source",
    )


def _wanted(asked: Asked) -> Explanation | None:
    if (found := wanted_next(asked.state)) is None:
        return None
    return Explanation(
        "cut next",
        sized(found.lack, found.size),
        "The first zone in placing order that waiting grafts do not fill, and the size that it lacks most. "
        "What waits is given to the zones before it first.",
        f"{asked.state.plan.zone_by_key[found.zone].label}: {grafts(found.owed)} owed, "
        f"{grafts(found.owed - found.lack)} wait for it",
        "common practice, no source",
    )


def _flow(asked: Asked) -> Explanation | None:
    if asked.foretold is None or asked.foretold.flow.unknown is not None:
        return None
    found, times = asked.foretold.flow, case_times(asked.state)
    value = "; ".join(said(found, times))
    return Explanation("supply", value, HOW, "; ".join(reasons(found, times)), SOURCE)


def _with_placers(asked: Asked) -> Explanation | None:
    since = with_placers_since_ms(asked.state.tally)
    if since is None:
        return None
    return Explanation(
        "with the placers",
        minutes_seconds(asked.now_ms - since),
        "How long the oldest graft with the placers may have been there since it arrived or was last wetted, "
        "counted for each size from the first that they got after they had none of it. Which batch a graft "
        "was taken from is not entered.",
        f"{grafts(asked.state.tally.held('bench'))} with the placers; "
        f"limit {minutes_seconds(asked.state.plan.limits.with_placers_seconds * 1000)}",
        "3 minutes of drying on a glove did major damage (Dermatol Surg 2000;26(1):25–31)",
    )


OVERVIEW: tuple[Role, ...] = ("overview",)
CUTTING: tuple[Role, ...] = ("cutting",)
PLACING: tuple[Role, ...] = ("placing",)

FIGURES: tuple[tuple[tuple[Role, ...], Callable[[Asked], Explanation | None]], ...] = (
    (CUTTING, _own),
    (CUTTING, _spoilt),
    (CUTTING, _harvest),
    ((*OVERVIEW, *CUTTING), _flow),
    (CUTTING, _wanted),
    (PLACING, _density),
    (PLACING, _owed),
    (PLACING, _next),
    (PLACING, _with_placers),
    ((*OVERVIEW, *CUTTING), _cut),
    ((*OVERVIEW, *PLACING), _placed),
    ((*OVERVIEW, *PLACING), _waiting),
    ((*OVERVIEW, *PLACING), _left),
    ((*OVERVIEW, *PLACING), _zones),
    (OVERVIEW, _earlier),
    ((*OVERVIEW, *PLACING), _oldest),
    (OVERVIEW, rest.finish),
    *((OVERVIEW, partial(rest.pace, work=work)) for work in WORKS),
    (OVERVIEW, rest.one_more),
    (OVERVIEW, rest.oldest_then),
    (OVERVIEW, rest.to_come),
    (OVERVIEW, rest.short),
    (OVERVIEW, rest.half_placed),
    (OVERVIEW, out.beyond_limit),
    (OVERVIEW, out.waits),
    (OVERVIEW, out.not_wetted),
    ((*OVERVIEW, *CUTTING, *PLACING), _prompts),
)
