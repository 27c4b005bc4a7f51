"""Times out of the body as FHIR observations, between two bounds where harvests mix; drying."""

from collections.abc import Iterator

from orroom.formats.fhir import resources as fhir
from orroom.formats.fhir.resources import Json, Telling, amount, between, figure, part, parts, per_cent
from orroom.summary.out_of_body import TimesOut

Found = Iterator[Json | None]


def out_of_body(t: Telling) -> Found:
    """By harvest, by size and by zone; and drying with the placers."""
    for each in t.summary.out_of_body:
        found = each.model_dump()
        times = (
            ("a quarter placed by", "lower_quartile"),
            ("half placed by", "median"),
            ("three quarters placed by", "upper_quartile"),
            ("longest when placed", "longest_placed"),
        )
        components = [part("harvest", fhir.phrase(each.harvest))]
        for words, name in (("placed", "placed"), ("waiting", "waiting")):
            ends = between(found[f"{name}_low"], found[f"{name}_high"], fhir.GRAFTS)
            components.append(part(words, ends))
        for words, name in times:
            low, high = (fhir.minutes(found[f"{name}_{end}_ms"]) for end in ("low", "high"))
            components.append(part(words, between(low, high, fhir.MINUTES)))
        shares = [(f"out for more than {hours} h", f"over_{hours}_h") for hours in (2, 4, 6)]
        if t.summary.out_of_body_limit_ms is not None:
            shares.append(("out beyond the surgeon's limit", "over_limit"))
        for words, name in shares:
            low, high = (per_cent(found[f"{name}_{end}"]) for end in ("low", "high"))
            components.append(part(words, between(low, high, fhir.PER_CENT)))
        ways = (
            "Placed by this time out of the body; waiting grafts assumed to be placed later (Kaplan-Meier).",
            t.summary.remark_on_harvests,
        )
        yield t.observation(figure("time out of the body", each.label), components=components, notes=ways)
    for harvest in t.summary.harvests:
        if harvest.out_unknown is not None:
            components = [
                part("harvest", fhir.phrase(harvest.harvest)),
                part("not known because", fhir.phrase(harvest.out_unknown)),
            ]
            yield t.observation(figure("time out of the body", harvest.label), components=components)
    yield from _by_size(t)
    yield from _by_zone(t)
    yield from _drying(t)


def _by_size(t: Telling) -> Found:
    for size in t.summary.out_of_body_sizes:
        waited = {
            "graft-hours waiting": (size.graft_hours_waiting, fhir.HOURS),
            "mean wait": (fhir.minutes(size.mean_wait_ms), fhir.MINUTES),
        }
        components = [
            fhir.component(fhir.size(size.size, size.label), fhir.phrase(size.label)),
            *parts(fhir.GRAFTS, {"placed": size.placed, "waiting": size.waiting, "waited in all": size.came}),
            *_times_out(t, size),
            *(part(words, amount(value, unit)) for words, (value, unit) in waited.items()),
        ]
        yield t.observation(figure("time out of the body, by size", size.label), components=components)


def _by_zone(t: Telling) -> Found:
    for zone in t.summary.out_of_body_zones:
        site = t.zone(zone.zone, zone.label)
        components = [*parts(fhir.GRAFTS, {"placed": zone.placed}), *_times_out(t, zone)]
        yield t.observation(figure("time out of the body, by zone"), components=components, site=site)


def _times_out(t: Telling, times: TimesOut) -> Found:
    """Half, the longest, and the share beyond the limit, between two bounds where harvests mix."""
    for words, low_ms, high_ms in (
        ("half placed by", times.median_low_ms, times.median_high_ms),
        ("longest when placed", times.longest_placed_low_ms, times.longest_placed_high_ms),
    ):
        yield part(words, between(fhir.minutes(low_ms), fhir.minutes(high_ms), fhir.MINUTES))
    if t.summary.out_of_body_limit_ms is not None:
        low, high = per_cent(times.over_limit_low), per_cent(times.over_limit_high)
        yield part("out beyond the surgeon's limit", between(low, high, fhir.PER_CENT))


def _drying(t: Telling) -> Found:
    if (found := t.summary.drying) is not None:
        components = [
            *parts(fhir.GRAFTS, {"grafts with the placers so far": found.grafts}),
            part("over the limit", between(found.over_limit_low, found.over_limit_high, fhir.GRAFTS)),
            part(
                "longest",
                between(
                    fhir.minutes(found.longest_low_ms), fhir.minutes(found.longest_high_ms), fhir.MINUTES
                ),
            ),
            *parts(fhir.MINUTES, {"limit of the plan": fhir.minutes(found.limit_ms)}),
            part(
                "share over the limit",
                between(
                    per_cent(found.over_limit_share_low), per_cent(found.over_limit_share_high), fhir.PER_CENT
                ),
            ),
            part(
                "minutes beyond the limit, of all grafts",
                between(found.beyond_limit_low, found.beyond_limit_high, fhir.MINUTES),
            ),
        ]
        yield t.observation(figure("time with the placers without wetting"), components=components)
