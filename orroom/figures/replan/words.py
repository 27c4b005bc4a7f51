"""What a re-plan gives and takes, zone by zone and why, or what clashes where there is none, in sentences."""

from collections.abc import Iterator, Mapping, Sequence

from orroom.case.plan import Plan
from orroom.case.terms import size_named
from orroom.figures.replan.dividing import Way, whole_pieces
from orroom.figures.replan.problem import ROUNDING, Aims, Counts, Problem, ZoneTask, hairs_in
from orroom.figures.replan.program import Found, Group
from orroom.figures.wording import decimal, grafts, percent


def counted(count: int, size: str) -> str:
    """Grafts of a size: ``40 twos``."""
    return f"{grafts(count)} {size_named(size, count)}"


def dividing_sentences(problem: Problem, best: Found, whole: Found | None) -> Iterator[str]:
    """What to divide, how many, and the hairs lost; then why: what zones would lack without.

    ``whole`` is the best with no graft divided, ``None`` if that keeps not all that was asked for.
    """
    for way, count in best.divided.items():
        pieces = [
            counted(number, size) for size in problem.hairs if (number := whole_pieces([(way, count)], size))
        ]
        yield (
            f"Divide {counted(count, way.size)} into {' + '.join(way.into)}"
            f", counting on {_listed(pieces) or 'no whole piece'}; {_loss(problem, way, count)}."
        )
    if best.divided and whole is None:
        yield "Without dividing, what was asked for cannot be met."
    elif best.divided and whole is not None:
        without, with_it = (_lacking(problem, each.counts) for each in (whole, best))
        if without - with_it > 0.05:
            left = _hairs(with_it) if with_it > 0.05 else "none"
            yield f"Without dividing, zones would lack {_hairs(without)} of the plan; with it, {left}."
        elif (without_it := _changed(problem, whole.counts)) > (changed := _changed(problem, best.counts)):
            other = f"{grafts(without_it)} grafts would be more or fewer of a size than planned"
            yield f"Without dividing, {other}; with it, {grafts(changed) if changed else 'none'}."
        else:
            yield "Dividing brings zones closer to the steps of the plan, or to the raise asked for."


def _loss(problem: Problem, way: Way, count: int) -> str:
    """Hairs lost by dividing so many, and where that number comes from."""
    lost = count * way.hairs_lost(problem.hairs)
    hairs = "no hair lost" if lost < 0.05 else f"{_hairs(lost)} lost"
    match way.basis:
        case "record":
            return f"{hairs}, going by the {size_named(way.size)} divided in this case so far"
        case "plan":
            return f"{hairs}, going by the plan"
        case "none":
            return f"{hairs}, as neither this case nor the plan shows a loss in dividing"


def _lacking(problem: Problem, counts: Counts) -> float:
    return sum(max(0.0, zone.hairs - hairs_in(problem, zone, counts)) for zone in problem.zones)


def _changed(problem: Problem, counts: Counts) -> int:
    return sum(
        abs(counts[zone.key, size] - before) for zone in problem.zones for size, before in zone.before.items()
    )


def _hairs(count: float) -> str:
    """Hairs, with a decimal only where they are not whole: ``1 hair``, ``2.5 hairs``."""
    hairs = decimal(count, 0 if abs(count - round(count)) < 0.05 else 1)
    return f"{hairs} {'hair' if hairs == '1' else 'hairs'}"


def proposal_sentences(plan: Plan, problem: Problem, counts: Counts) -> tuple[str, ...]:
    """What each zone gets other than planned, those alike in one sentence; then what is left over."""
    division = _Told(plan, problem, counts)
    zones_by_difference: dict[str, list[str]] = {}
    for zone in problem.zones:
        if difference := division.difference(zone):
            zones_by_difference.setdefault(difference, []).append(plan.zone_by_key[zone.key].label)
    told = [
        f"{_listed(labels)} {'gets' if len(labels) == 1 else 'each get'} {difference}."
        for difference, labels in zones_by_difference.items()
    ]
    if not told:
        told = ["Nothing changes: the plan stays as it is."]
    for size, supply in problem.supply.items():
        left = supply - sum(counts[zone.key, size] for zone in problem.zones)
        if left:
            why = _why_left(problem, counts, size)
            told.append(f"{counted(left, size)} {'is' if left == 1 else 'are'} left over{why}.")
    return tuple(told)


def _why_left(problem: Problem, counts: Counts, size: str) -> str:
    """Why grafts of a size are left over of which there are too few; of a size to spare nothing is said."""
    if problem.supply[size] >= sum(zone.before[size] for zone in problem.zones):
        return ""
    takers = [zone for zone in problem.zones if size in zone.allowed]
    hairs = [
        hairs_in(problem, zone, counts) + problem.hairs[size] > zone.most_hairs + ROUNDING for zone in takers
    ]
    full = [sum(counts[zone.key, each] for each in problem.hairs) >= zone.most_grafts for zone in takers]
    why = ""
    if all(one or other for one, other in zip(hairs, full, strict=True)):
        full_of = "hairs" if all(hairs) else "grafts" if all(full) else "hairs or grafts"
        more = f"would get more {full_of} than it is meant to have"
        why = f": with one more, any zone that takes {size_named(size, 2)} {more}"
    return f", though fewer than planned are expected{why}"


class _Told:
    """A division compared with its plan, and why each number differs."""

    def __init__(self, plan: Plan, problem: Problem, counts: Counts) -> None:
        self._plan, self._problem, self._counts = plan, problem, counts

    def _more_of(self, zone: ZoneTask, size: str) -> int:
        return self._counts[zone.key, size] - zone.before[size]

    def _label(self, zone: ZoneTask) -> str:
        return self._plan.zone_by_key[zone.key].label

    def difference(self, zone: ZoneTask) -> str:
        """What a zone gets more or less of, each with its reason, and the hairs; nothing if as planned."""
        parts = [
            f"{grafts(abs(difference))} {'more' if difference > 0 else 'fewer'}"
            f" {size_named(size, abs(difference))} ({why})"
            for size in self._problem.hairs
            if (difference := self._more_of(zone, size))
            for why in [self._why_more(zone, size) if difference > 0 else self._why_fewer(zone, size)]
        ]
        return f"{_listed(parts)}: {self._hairs(zone)}" if parts else ""

    def _hairs(self, zone: ZoneTask) -> str:
        got = hairs_in(self._problem, zone, self._counts)
        more = got - zone.hairs
        if abs(more) < 0.05:
            return "the same hairs as planned"
        share = f", {percent(abs(more) / zone.hairs, 1)} of the plan" if zone.hairs else ""
        return f"{_hairs(abs(more))} {'more' if more > 0 else 'fewer'} than planned{share}"

    def _why_fewer(self, zone: ZoneTask, size: str) -> str:
        """Because the size runs short, and why it is this zone that goes without; or who gets them."""
        problem = self._problem
        missing = sum(each.before[size] for each in problem.zones) - problem.supply[size]
        gaining = [self._label(each) for each in problem.zones if self._more_of(each, size) > 0]
        if missing <= 0:
            return (
                f"given to {_listed(gaining)}" if gaining else "so that it differs less from its neighbours"
            )
        short = f"there will be {grafts(missing)} fewer in all"
        planned = [each for each in problem.zones if each.before[size]]
        if len(planned) == 1:
            return f"{short}, and no other zone has any planned"
        lightest = min(each.weight for each in planned)
        light = [each for each in planned if each.weight == lightest]
        if zone in light and light == planned[-len(light) :]:
            return f"{short}, and it is {'placed last' if len(light) == 1 else 'among the last placed'}"
        if zone in light:
            return f"{short}, and it was given the least weight"
        return f"{short}, shared among the zones"

    def _why_more(self, zone: ZoneTask, size: str) -> str:
        """Because they are placed, or replace others, or come from other zones, or are there."""
        problem = self._problem
        if self._counts[zone.key, size] == zone.placed[size]:
            return "already placed"
        instead = [each for each in problem.hairs if self._more_of(zone, each) < 0]
        if instead:
            return f"in place of {_listed([size_named(each, 2) for each in instead])}"
        giving = [self._label(each) for each in problem.zones if self._more_of(each, size) < 0]
        if giving:
            return f"from {_listed(giving)}"
        return "more are there than planned"


def aims_sentences(plan: Plan, aims: Aims) -> Iterator[str]:
    """What was asked beyond the plan's targets, in one sentence; nothing if nothing was."""

    def bounds(asked: Mapping[str, float], word: str, unit: str) -> list[str]:
        return [f"{plan.zone_by_key[key].label} {word} {value:g} {unit}" for key, value in asked.items()]

    parts = [
        *(
            [f"the {aims.combing_side} side, which hair is combed from, weighs more"]
            if aims.combing_side
            else []
        ),
        *(
            [f"{_listed([plan.zone_by_key[key].label for key in aims.upper_arc])} weighs more as upper arc"]
            if aims.upper_arc
            else []
        ),
        *bounds(aims.least_hairs_per_cm2, "at least", "hairs/cm²"),
        *bounds(aims.most_grafts_per_cm2, "at most", "grafts/cm²"),
        *([f"zones are raised by up to {percent(aims.raise_share)}"] if aims.raise_share else []),
        *(
            f"{size_named(size)} may be divided into {' or '.join(ways)}"
            for size, ways in _by_size(aims).items()
        ),
    ]
    if parts:
        yield f"Asked for: {'; '.join(parts)}."


def _by_size(aims: Aims) -> Mapping[str, list[str]]:
    ways: dict[str, list[str]] = {}
    for way in aims.ways:
        ways.setdefault(way.size, []).append(" + ".join(way.into))
    return ways


def clash_sentences(plan: Plan, problem: Problem, found: Sequence[Group]) -> tuple[str, ...]:
    """What cannot hold together; if more is placed of sizes than there will be, that for each size."""
    over = tuple(_placed_over_supply(plan, problem))
    if over:
        return over
    zones = {zone.key: zone for zone in problem.zones}
    parts = [_held(plan, problem, zones.get(group.key), group) for group in found]
    return (f"These do not fit together: {'; '.join(parts)}.",)


def _placed_over_supply(plan: Plan, problem: Problem) -> Iterator[str]:
    for size, supply in problem.supply.items():
        here = [(zone, zone.placed[size]) for zone in problem.zones if zone.placed[size]]
        placed = sum(count for _, count in here)
        if placed > supply:
            where = _listed(
                [f"{grafts(count)} in {plan.zone_by_key[zone.key].label}" for zone, count in here]
            )
            told = f"Already placed are {counted(placed, size)} ({where})"
            yield f"{told}, but only {grafts(supply)} are expected."


def _held(plan: Plan, problem: Problem, zone: ZoneTask | None, group: Group) -> str:
    """One group of rows as what it asks."""
    if zone is None:
        return f"only {counted(problem.supply[group.key], group.key)} are expected"
    label, area = plan.zone_by_key[zone.key].label, zone.area_cm2
    match group.kind:
        case "least":
            least = zone.least_hairs or 0.0
            return (
                f"{label} must have at least {decimal(least / area)} hairs/cm², that is"
                f" {decimal(least, 0)} hairs"
            )
        case "most" if not zone.most_asked:
            most = f"{grafts(zone.most_grafts)} grafts"
            return f"{label} is not packed denser than the plan or the mark, with {most}"
        case "most":
            return f"{label} must have at most {grafts(zone.most_grafts)} grafts"
        case "placed":
            placed = [counted(count, size) for size, count in zone.placed.items() if count]
            return f"{_listed(placed)} are placed in {label}"
        case "allowed":
            return (
                f"{label} takes only {_listed([size_named(size, 2) for size in zone.allowed]) or 'no size'}"
            )
        case _:
            return f"{label} is not raised above {decimal(zone.most_hairs, 0)} hairs"


def _listed(parts: Sequence[str]) -> str:
    """``a, b and c``."""
    return " and ".join([", ".join(parts[:-1]), parts[-1]] if len(parts) > 1 else parts)
