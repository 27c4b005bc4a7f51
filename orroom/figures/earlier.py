"""Earlier cases of the same patient next to a plan: what they placed, and what the donor gave for them."""

import re
from collections import Counter
from collections.abc import Iterator, Mapping
from math import fsum
from typing import Final

from msgspec import Struct

from orroom.case.plan import Plan, Zone
from orroom.case.terms import size_named
from orroom.figures.donor import expected_by_size, expected_grafts
from orroom.figures.wording import grafts, several

#: What may differ between codes of one patient, at their end: ``-2``, ``-D2``, ``_B`` or ``B``.
_SESSION_MARK: Final = re.compile(r"(?:[-_][A-Z]?\d{1,2}|[-_]?[A-Z])$")


class Before(Struct, frozen=True):
    """What earlier cases placed into one zone, all of them together: grafts by size, and hairs."""

    placed: Mapping[str, int]
    hairs: float

    @property
    def grafts(self) -> int:
        """Grafts placed."""
        return sum(self.placed.values())


def before_by_zone(plan: Plan) -> dict[str, Before]:
    """By zone of the earlier cases, also those that this plan does not have, what they placed there."""
    placed: dict[str, Counter[str]] = {}
    hairs: dict[str, list[float]] = {}
    for session in plan.sessions or ():
        for zone in session.zones:
            placed.setdefault(zone.key, Counter()).update(zone.placed)
            hairs.setdefault(zone.key, []).append(zone.hairs)
    return {key: Before(dict(sizes), fsum(hairs[key])) for key, sizes in placed.items()}


def before_in(plan: Plan, zone: Zone) -> Before:
    """What earlier cases placed into a zone."""
    return before_by_zone(plan).get(zone.key, Before({}, 0.0))


def taken_by_size(plan: Plan) -> dict[str, int]:
    """Grafts that the donor gave in earlier cases, by size."""
    taken: Counter[str] = Counter()
    for session in plan.sessions or ():
        taken.update(session.taken)
    return dict(taken)


def kept_by_size(plan: Plan) -> dict[str, int]:
    """Grafts kept from the case before this one, by size."""
    kept: Counter[str] = Counter()
    for each in plan.kept.values():
        kept.update(each.grafts)
    return dict(kept)


def taken_off(plan: Plan) -> dict[str, int]:
    """What of the donor estimate earlier cases have taken, by size: nothing if it was made after them."""
    return {} if plan.donor is None or plan.donor.after_earlier else taken_by_size(plan)


def still_expected(plan: Plan) -> float:
    """Grafts that the donor is still expected to give: the estimate less what was taken, never below 0."""
    if plan.donor is None:
        return 0.0
    return max(0.0, expected_grafts(plan.donor) - sum(taken_off(plan).values()))


def still_expected_by_size(plan: Plan) -> dict[str, float]:
    """The same by size: a size that gave more than was expected of it is at 0, and takes from no other."""
    if plan.donor is None:
        return {}
    taken = taken_off(plan)
    return {
        size: max(0.0, expected - taken.get(size, 0))
        for size, expected in expected_by_size(plan.donor).items()
    }


def advise_earlier_zones_and_sizes_in_plan(plan: Plan) -> Iterator[str]:
    """Every zone and size that an earlier case placed grafts of is in this plan too."""
    for key, before in before_by_zone(plan).items():
        if key not in plan.zone_by_key:
            yield (
                f"{several(before.grafts, 'graft')} of earlier cases {'is' if before.grafts == 1 else 'are'}"
                f" in zone {key}, which this plan lacks; add it, if need be as not treated"
            )
    sizes = sorted({size for before in before_by_zone(plan).values() for size in before.placed})
    for size in sizes:
        if size not in plan.size_by_key:
            count = sum(before.placed.get(size, 0) for before in before_by_zone(plan).values())
            yield (
                f"{grafts(count)} {size_named(size, count)} of earlier cases: this plan lacks size {size}; "
                "their hairs count by the earlier plan"
            )


def advise_codes_of_one_patient(plan: Plan) -> Iterator[str]:
    """The code of an earlier case differs from this one's by no more than a mark of the session."""
    for session in plan.sessions or ():
        if not _stems(session.case) & _stems(plan.case):
            yield f"earlier case {session.case}, this case {plan.case}: are they of one patient?"


def _stems(code: str) -> set[str]:
    """A code as it is, and without what may be a mark of the session."""
    return {code, _SESSION_MARK.sub("", code) or code}
