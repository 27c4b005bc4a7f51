"""What a re-plan gives and takes, zone by zone and why, or what clashes where there is none, in sentences."""

from collections.abc import Iterator, Mapping, Sequence

from orroom.case.plan import Plan
from orroom.case.terms import Side, ZoneKind, size_named
from orroom.figures.replan.dividing import Way, after, whole_pieces
from orroom.figures.replan.problem import ROUNDING, Aims, Counts, Problem, ZoneTask, hairs_in, used_of
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
    hairs = _decimal(count)
    return f"{hairs} {'hair' if hairs == '1' else 'hairs'}"


def _decimal(count: float) -> str:
    return decimal(count, 0 if abs(count - round(count)) < 0.05 else 1)


def _is(count: int) -> str:
    return "is" if count == 1 else "are"


def proposal_sentences(plan: Plan, problem: Problem, best: Found) -> tuple[str, ...]:
    """What changes in all; by size, in sums that close; in hairs; and where left and right become unequal."""
    division = _Division(plan, problem, best)
    by_size = [each for size in problem.hairs for each in division.of_size(size)]
    if not _changed(problem, best.counts):
        return ("Nothing changes: the plan stays as it is.", *by_size)
    return (division.in_all(), *by_size, division.in_hairs(), *division.unequal_sides())


class _Division:
    """A division compared with its plan, and why each number differs."""

    def __init__(self, plan: Plan, problem: Problem, best: Found) -> None:
        self._plan, self._problem, self._counts = plan, problem, best.counts
        self._there = after(problem.supply, best.divided)
        self._cut = {size for way in best.divided for size in (way.size, *way.into)}

    def _more_of(self, zone: ZoneTask, size: str) -> int:
        return self._counts[zone.key, size] - zone.before[size]

    def _label(self, zone: ZoneTask) -> str:
        return self._plan.zone_by_key[zone.key].label

    def in_all(self) -> str:
        """Grafts and hairs of all zones: ``In all 2,396 grafts (2,400 planned) and …``."""
        problem = self._problem
        got = sum(used_of(problem, self._counts, size) for size in problem.hairs)
        hairs = sum(hairs_in(problem, zone, self._counts) for zone in problem.zones)
        return (
            f"In all {grafts(got)} grafts ({grafts(sum(zone.grafts for zone in problem.zones))} planned)"
            f" and {_hairs(hairs)} ({_decimal(sum(zone.hairs for zone in problem.zones))} planned)."
        )

    def of_size(self, size: str) -> Iterator[str]:
        """Why zones get more or fewer of a size, as one sum; nothing where nothing changes."""
        zones = self._problem.zones
        missing = sum(zone.before[size] for zone in zones) - self._there[size]
        left = self._there[size] - used_of(self._problem, self._counts, size)
        more, fewer = self._gets(size, 1), self._gets(size, -1)
        over = [f"{grafts(left)} {_is(left)} left over{self._why_left(size)}"] if left else []
        expected = [self._expected(size, missing)] if missing else []
        why, so = ([*expected, *fewer], [*more, *over]) if missing < 0 else ([*expected, *more, *over], fewer)
        if so:
            these = max(0, missing) + left + sum(max(0, self._more_of(zone, size)) for zone in zones)
            total = f", {grafts(these)} in all" if len(why) > 1 and len(so) > 1 else ""
            named = "" if expected else f"{size_named(size, 2).capitalize()}: "
            yield f"{named}{_listed(why)}{total}{':' if expected else ', so'} {_listed(so)}."

    def _expected(self, size: str, missing: int) -> str:
        """How many more or fewer there are than planned: ``5 fewer ones than planned are expected``."""
        word, once_cut = "fewer" if missing > 0 else "more", " after dividing" if size in self._cut else ""
        named = f"{grafts(abs(missing))} {word} {size_named(size, abs(missing))}"
        return f"{named} than planned {_is(abs(missing))} expected{once_cut}"

    def _gets(self, size: str, sign: int) -> list[str]:
        """The zones that get more of a size, or fewer; those alike together, each with its reason."""
        alike: dict[tuple[int, str], list[str]] = {}
        for zone in self._problem.zones:
            if (count := sign * self._more_of(zone, size)) > 0:
                why = self._why_more(zone, size) if sign > 0 else self._why_fewer(zone, size)
                alike.setdefault((count, why), []).append(self._label(zone))
        return [
            f"{_listed(labels)} {'gets' if len(labels) == 1 else 'each get'} {grafts(count)}"
            f" {'more' if sign > 0 else 'fewer'}{why and f' ({why})'}"
            for (count, why), labels in alike.items()
        ]

    def _why_fewer(self, zone: ZoneTask, size: str) -> str:
        """Why it is this zone that goes without a size that runs short, if it is not one of many."""
        planned = [each for each in self._problem.zones if each.before[size]]
        lightest = min(each.weight for each in planned)
        light = [each for each in planned if each.weight == lightest]
        if self._there[size] >= sum(each.before[size] for each in planned) or zone not in light:
            return ""
        if len(planned) == 1:
            return "no other zone has any planned"
        if light == planned[-len(light) :]:
            return f"{'last' if len(light) == 1 else 'among the last'} in the plan's order"
        return "given the least weight"

    def _why_more(self, zone: ZoneTask, size: str) -> str:
        """Because they are placed, or replace others."""
        if self._counts[zone.key, size] == zone.placed[size]:
            return "already placed"
        instead = [each for each in self._problem.hairs if self._more_of(zone, each) < 0]
        return f"in place of {_listed([size_named(each, 2) for each in instead])}" if instead else ""

    def _why_left(self, size: str) -> str:
        """Why grafts are left over of a size that runs short, or whether dividing them could help."""
        problem = self._problem
        if self._there[size] >= sum(zone.before[size] for zone in problem.zones):
            return self._could_be_divided(size)
        takers = [zone for zone in problem.zones if size in zone.allowed]
        hairs = [
            hairs_in(problem, zone, self._counts) + problem.hairs[size] > zone.most_hairs + ROUNDING
            for zone in takers
        ]
        full = [
            sum(self._counts[zone.key, each] for each in problem.hairs) >= zone.most_grafts for zone in takers
        ]
        if not all(one or other for one, other in zip(hairs, full, strict=True)):
            return ""
        full_of = "hairs" if all(hairs) else "grafts" if all(full) else "hairs or grafts"
        more = f"would get more {full_of} than it is meant to have"
        return f" (with one more, any zone that takes {size_named(size, 2)} {more})"

    def _could_be_divided(self, size: str) -> str:
        """Whether grafts to spare could be divided into sizes of which there are too few."""
        problem = self._problem
        short = [
            size_named(each, 2)
            for each, hairs in problem.hairs.items()
            if hairs < problem.hairs[size]
            and self._there[each] < sum(zone.before[each] for zone in problem.zones)
        ]
        if not short:
            return ""
        if any(way.size == size for way in problem.ways):
            return " (dividing more of them would not come closer to the plan)"
        return f" ({_listed(short)} are short, but the plan names no way to divide {size_named(size, 2)})"

    def in_hairs(self) -> str:
        """The hairs of every zone that changes, against its plan."""
        alike: dict[str, list[str]] = {}
        for zone in self._problem.zones:
            if any(self._more_of(zone, size) for size in self._problem.hairs):
                alike.setdefault(self._hairs_of(zone), []).append(self._label(zone))
        return f"Hairs: {'; '.join(f'{_listed(labels)} {hairs}' for hairs, labels in alike.items())}."

    def _hairs_of(self, zone: ZoneTask) -> str:
        more = hairs_in(self._problem, zone, self._counts) - zone.hairs
        if abs(more) < 0.05:
            return "as planned"
        share = f" ({percent(abs(more) / zone.hairs, 1)} of its plan)" if zone.hairs else ""
        return f"{_decimal(abs(more))} {'more' if more > 0 else 'fewer'} than planned{share}"

    def unequal_sides(self) -> Iterator[str]:
        """Where left and right of a kind differ more than in the plan: in hairs, or in sizes only."""
        sides: dict[ZoneKind, dict[Side, list[ZoneTask]]] = {}
        for task in self._problem.zones:
            zone = self._plan.zone_by_key[task.key]
            if zone.kind is not None and zone.side is not None:
                sides.setdefault(zone.kind, {}).setdefault(zone.side, []).append(task)
        hairs, sizes = [], []
        for pair in sides.values():
            match pair.get("left", []), pair.get("right", []):
                case [left], [right] if any(self._part(left, right, size) for size in self._problem.hairs):
                    dense = [
                        decimal(hairs_in(self._problem, zone, self._counts) / zone.area_cm2)
                        for zone in (left, right)
                    ]
                    named = self._both(left, right)
                    if dense[0] == dense[1]:
                        sizes.append(named)
                    else:
                        hairs.append(f"{named} {dense[0]} and {dense[1]} hairs/cm²")
        parts = [*hairs, *([f"{_listed(sizes)} in sizes, not in hairs"] if sizes else [])]
        if parts:
            yield f"Left and right become unequal: {'; '.join(parts)}."

    def _part(self, left: ZoneTask, right: ZoneTask, size: str) -> bool:
        """Whether the two differ more in a size than in the plan."""
        difference = self._counts[left.key, size] - self._counts[right.key, size]
        return abs(difference) > abs(left.before[size] - right.before[size])

    def _both(self, left: ZoneTask, right: ZoneTask) -> str:
        """The two as one: ``hairline`` for ``hairline left`` and ``hairline right``."""
        one, other = self._label(left), self._label(right)
        shared = one.removesuffix(" left")
        return shared if other == f"{shared} right" else f"{one} and {other}"


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
            found = f"Already placed are {counted(placed, size)} ({where})"
            yield f"{found}, but only {grafts(supply)} are expected."


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
