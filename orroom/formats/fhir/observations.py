"""The figures of a case as FHIR observations: one function a section, listed in ``SECTIONS``.

An observation is a measurement or a simple assertion about the patient (hl7.org/fhir/observation.html, read):
what is forecast is left out, and what is wrong with the record is noted with the procedure.
"""

from collections.abc import Callable, Iterator, Mapping
from typing import Final

from orroom.case.terms import WORK_NAMES
from orroom.figures.quality import ALIKE
from orroom.formats.fhir import resources as fhir
from orroom.formats.fhir.readings import readings
from orroom.formats.fhir.resources import Json, Telling, Unit, amount, between, figure, part, parts, per_cent
from orroom.formats.fhir.times_out import out_of_body
from orroom.summary.grafts import HAIR_COUNTS, Counts
from orroom.summary.quality import RangedShare
from orroom.summary.spot_checks import SpotCheck
from orroom.summary.zones import ZoneSummary

#: What is shown by size: words, and the fields of the counts that are added up for it.
GRAFTS_BY_SIZE: Final = (
    ("grafts planned", ("planned",)),
    ("grafts kept from an earlier case", ("kept_before",)),
    ("grafts cut in all", ("cut_in_all",)),
    ("grafts divided in", ("divided_in",)),
    ("grafts in dishes", ("dish",)),
    ("grafts with the placers", ("with_placers",)),
    ("grafts left", ("dish", "with_placers")),
    ("grafts usable", ("dish", "with_placers", "placed", "left_at_end")),
    ("grafts placed", ("placed",)),
    ("grafts discarded", ("discarded",)),
    ("grafts divided out", ("divided_out",)),
    ("grafts not found", ("not_found",)),
    ("grafts left at the end", ("left_at_end",)),
    ("grafts owed to zones", ("owed",)),
)
HAIRS_BY_SIZE: Final = tuple((words, (field,)) for field, words in HAIR_COUNTS.items())

#: What a work is counted in where it is not grafts.
_UNITS_OF: Final = {WORK_NAMES["sites"]: (fhir.counted("sites"), Unit("sites/h", "/h", 1))}

Found = Iterator[Json | None]


def counts(t: Telling) -> Found:
    """Grafts and hairs in all, and by size."""
    for unit, table in ((fhir.GRAFTS, GRAFTS_BY_SIZE), (fhir.HAIRS, HAIRS_BY_SIZE)):
        for words, fields in table:
            by_size = {each.size: _added(each, fields) for each in t.summary.sizes}
            whole = amount(_added(t.summary.in_all, fields), unit)
            yield t.observation(figure(words), whole, _by_size(t, by_size, unit))


def hairs_per_graft(t: Telling) -> Found:
    """Mean hairs of a graft, and hairs that dividing lost."""
    whole = t.summary.in_all
    means = {
        "planned": whole.hairs_per_graft_planned,
        "usable": whole.hairs_per_graft_usable,
        "placed": whole.hairs_per_graft_placed,
    }
    yield t.observation(figure("hairs per graft"), components=parts(fhir.HAIRS_PER_GRAFT, means))
    yield t.observation(figure("hairs lost in dividing"), amount(whole.hairs_lost_dividing, fhir.HAIRS))


def zones(t: Telling) -> Found:
    """Each zone: grafts planned and placed by size, what is owed, hairs, densities, sites."""
    for zone in t.summary.zones:
        site = t.zone(zone.zone, zone.label)
        for words, grafts, by_size in (
            ("grafts planned in zone", zone.grafts_planned, zone.planned),
            ("grafts placed in zone", zone.grafts_placed, zone.placed),
        ):
            whole = amount(grafts, fhir.GRAFTS)
            yield t.observation(figure(words), whole, _by_size(t, by_size, fhir.GRAFTS), site)
        found: list[tuple[Unit, dict[str, float | None]]] = [
            (
                fhir.GRAFTS,
                {
                    "owed": zone.grafts_owed,
                    "over": zone.grafts_over,
                    "placed beyond the plan": zone.grafts_extra,
                    "reseated": zone.reseated,
                },
            ),
            (fhir.HAIRS, {"hairs planned": zone.hairs_planned, "hairs placed": zone.hairs_placed}),
            *(_before(zone) if t.summary.earlier_cases else ()),
            (fhir.counted("sites"), {"sites made": zone.sites_made, "sites free": zone.sites_free}),
            (fhir.AREA, {"area": zone.area_cm2}),
            (
                fhir.GRAFTS_PER_CM2,
                {
                    "graft density planned": zone.planned_grafts_per_cm2,
                    "graft density placed": zone.placed_grafts_per_cm2,
                },
            ),
            (
                fhir.HAIRS_PER_CM2,
                {
                    "hair density planned": zone.planned_hairs_per_cm2,
                    "hair density placed": zone.placed_hairs_per_cm2,
                },
            ),
        ]
        components = [each for unit, values in found for each in parts(unit, values)]
        yield t.observation(figure("zone against plan"), components=components, site=site)


def _before(zone: ZoneSummary) -> tuple[tuple[Unit, dict[str, float | None]], ...]:
    """What earlier cases placed into a zone, and what is there with it."""
    return (
        (fhir.GRAFTS, {"placed in earlier cases": zone.grafts_before}),
        (fhir.HAIRS, {"hairs placed in earlier cases": zone.hairs_before}),
        (
            fhir.GRAFTS_PER_CM2,
            {
                "graft density of earlier cases": zone.before_grafts_per_cm2,
                "graft density of all cases": zone.together_grafts_per_cm2,
            },
        ),
        (
            fhir.HAIRS_PER_CM2,
            {
                "hair density of earlier cases": zone.before_hairs_per_cm2,
                "hair density of all cases": zone.together_hairs_per_cm2,
            },
        ),
    )


def earlier_cases(t: Telling) -> Found:
    """What earlier cases placed and took from the donor, by size, and what was kept for this case."""
    for each in t.summary.earlier_cases:
        about = part("earlier case", fhir.phrase(each.earlier_case))
        seal = part("seal of its record", fhir.phrase(f"{each.entries}:{each.seal}"))
        for words, count, by_size in (
            ("grafts placed in an earlier case", each.grafts_placed, each.placed),
            ("grafts taken from the donor in an earlier case", each.grafts_taken, each.taken),
        ):
            sizes = _by_size(t, by_size, fhir.GRAFTS)
            yield t.observation(figure(words), amount(count, fhir.GRAFTS), [about, seal, *sizes])
        found = {"in zones not planned": float(each.grafts_elsewhere)}
        components = [about, *parts(fhir.GRAFTS, found)]
        hairs = amount(each.hairs_placed, fhir.HAIRS)
        yield t.observation(figure("hairs placed in an earlier case"), hairs, components)
    for kept in t.summary.kept_grafts:
        not_found = {"not found": float(kept.not_found)} if kept.counted_again else {}
        components = [
            part("harvest", fhir.phrase(kept.label)),
            part("size", fhir.phrase(kept.size)),
            *parts(fhir.GRAFTS, not_found),
        ]
        yield t.observation(figure("grafts kept"), amount(kept.grafts, fhir.GRAFTS), components)


def pace(t: Telling) -> Found:
    """Each work: what was done in how many hours, breaks left out."""
    spans: dict[str, tuple[int, int]] = {each.work: (each.first, each.last) for each in t.summary.times}
    for each in t.summary.pace:
        what, per_hour = _UNITS_OF.get(each.work, (fhir.GRAFTS, fhir.GRAFTS_PER_HOUR))
        components = [
            *parts(what, {"done": each.done, "still to do": each.left}),
            *parts(fhir.HOURS, {"working hours": each.working_hours, "person hours": each.person_hours}),
            part("per hour", amount(each.per_hour, per_hour)),
            part("per person hour", amount(each.per_person_hour, per_hour)),
        ]
        if not each.as_it_went:
            components.append(part("pace not known because", fhir.phrase("entered in one go, or just begun")))
        words = figure(f"pace of {each.work}")
        yield t.observation(words, components=components, span=spans.get(each.work))


def quality(t: Telling) -> Found:
    """Shares of what went wrong, with their 95 % ranges, and transected follicles with theirs."""
    for each in t.summary.quality:
        components = [*parts(fhir.GRAFTS, {"count": each.count, "of": each.of}), _range(each)]
        share = amount(per_cent(each.share), fhir.PER_CENT)
        yield t.observation(figure(f"share {each.measure}"), share, components, notes=[ALIKE])
    for fault in t.summary.faults:
        components = [
            part("fault", fhir.phrase(fault.fault)),
            *parts(fhir.GRAFTS, {"count": fault.count, "of": fault.of}),
            _range(fault),
        ]
        share = amount(per_cent(fault.share), fhir.PER_CENT)
        words = figure(f"share of a fault, {fault.measure}", fault.fault)
        yield t.observation(words, share, components, notes=[ALIKE])
    if (seen := t.summary.follicles) is not None:
        components = [
            *parts(fhir.GRAFTS, {"grafts looked at": seen.looked_at}),
            *parts(fhir.counted("follicles"), {"count": seen.transected, "of": seen.follicles}),
            _range(seen),
        ]
        share = amount(per_cent(seen.share), fhir.PER_CENT)
        yield t.observation(figure("share of follicles transected"), share, components, notes=[ALIKE])


def spot_checks(t: Telling) -> Found:
    """What close looks found: whose work it was where people may be named, and who looked."""
    found: dict[tuple[str, str | None], list[SpotCheck]] = {}
    for each in t.summary.spot_checks:
        whose = each.whose if t.summary.share_level == "full" else None
        found.setdefault((each.subject, whose), []).append(each)
    for (subject, whose), checks in found.items():
        counts = {
            "grafts looked at": sum(each.looked_at for each in checks),
            "faulty": sum(each.faulty for each in checks),
        }
        yield t.observation(
            figure(f"spot checks of {subject}"),
            components=[part("whose work", fhir.phrase(whose)), *parts(fhir.GRAFTS, counts)],
            span=(checks[0].at, checks[-1].at),
            performers=dict.fromkeys(each.who for each in checks),
        )


def _range(share: RangedShare) -> Json | None:
    low, high = per_cent(share.wilson_low), per_cent(share.wilson_high)
    return part("95 % range, Wilson", between(low, high, fhir.PER_CENT))


def care(t: Telling) -> Found:
    """Each care round: how many fell due, in time and missed, the longest gap, temperatures, their band."""
    begun = t.summary.start_of_work
    span = None if begun is None else (begun, t.summary.care_until)
    for each in t.summary.care:
        readings = each.readings or None
        temperature = between(each.lowest_c, each.highest_c, fhir.CELSIUS)
        band = fhir.ends(each.low_c, each.high_c, fhir.CELSIUS)
        if temperature is not None and band:
            temperature["referenceRange"] = [{**band, "text": "band of the plan"}]
        spans = {
            "longest delay": each.latest_ms,
            "longest gap": each.longest_gap_ms,
            "since the last": each.since_last_ms,
        }
        components = [
            part("round", fhir.phrase(each.care)),
            *parts(
                fhir.counted("rounds"),
                {
                    "due": each.due,
                    "given": each.given,
                    "on time": each.on_time,
                    "missed": each.missed,
                    "missed at the end": each.missed_at_end,
                },
            ),
            *parts(fhir.MINUTES, {words: fhir.minutes(span) for words, span in spans.items()}),
            part(
                "minutes in dishes beyond the interval, of all grafts",
                between(each.beyond_interval_low, each.beyond_interval_high, fhir.MINUTES),
            ),
            part("temperature", temperature),
            *parts(
                fhir.counted("readings"),
                {"readings": readings, "out of band": readings and each.out_of_band},
            ),
        ]
        yield t.observation(figure("care round", each.label), components=components, span=span)


def final_count(t: Telling) -> Found:
    """How many groups two people counted, and in how many the record differs from their count."""
    summary = t.summary
    if summary.final_count is None:
        return
    groups = {"counted": len(summary.counted), "different": summary.final_count.differences}
    span = summary.final_count.first_at, summary.final_count.second_at
    yield t.observation(figure("final count"), components=parts(fhir.counted("groups"), groups), span=span)


def _added(count: Counts, fields: tuple[str, ...]) -> float:
    return float(sum(getattr(count, field) for field in fields))


def _by_size(t: Telling, by_size: Mapping[str, float], unit: Unit) -> list[Json | None]:
    labels = {each.size: each.label for each in t.summary.sizes}
    return [
        fhir.component(fhir.size(size, labels.get(size, size)), amount(value, unit))
        for size, value in by_size.items()
    ]


SECTIONS: Final[tuple[Callable[[Telling], Found], ...]] = (
    counts,
    hairs_per_graft,
    zones,
    earlier_cases,
    out_of_body,
    pace,
    quality,
    spot_checks,
    care,
    readings,
    final_count,
)
