"""A count drill's lines: what one person, then another, finds of each size, with corrections in between."""

from typing import Final, get_args

from orroom.case.terms import PLACES_IN_A_WORD, Place
from orroom.drill.drawing import Draw
from orroom.drill.sheet import Fault, Item, Line

SIZES: Final = ("1", "2", "3", "M")
PLURAL: Final = {"1": "ones", "2": "twos", "3": "threes", "M": "multi"}
#: By level: the harvests, how many people count, and what is built into the first person's lines.
LEVELS: Final[dict[int, tuple[tuple[str, ...], int, tuple[Fault, ...]]]] = {
    1: (("A",), 1, ("dropped graft", "undo")),
    2: (("A", "B"), 1, ("dropped graft", "undo", "wrong harvest", "held key")),
    3: (("A", "B"), 2, ("dropped graft", "undo", "wrong harvest", "held key")),
}


def count_lines(level: int, draw: Draw) -> list[Line]:
    """The lines of a level. Each person's are in their own order, and end with the groups that are empty."""
    harvests, people, faults = LEVELS[level]
    found = _found(draw, harvests)
    there = [each for each in found if each.count]
    order = draw.shuffled(there) if level > 1 else there
    at = _faults_at(draw, order, faults)
    lines: list[Line] = []
    for place, item in enumerate(order):
        lines += _said(draw, item, at.get(place), harvests)
    lines.append(_rest(found, harvests))
    if people == 2:
        lines.append(Line("(somebody else counts and reads on) the second count", fault="new reader"))
        differs = draw.one(there)
        second = [
            _counted(each, each.count - (each == differs), each.harvest, by=2)
            for each in draw.shuffled(found)
        ]
        lines += [Line(in_words(each, harvests), (each,)) for each in second if each.count]
        lines.append(_rest(second, harvests))
    return lines


def _found(draw: Draw, harvests: tuple[str, ...]) -> list[Item]:
    """What the first person finds, group by group: all sizes in dishes, two with the placers."""
    found: list[Item] = []
    for harvest in harvests:
        with_placers = draw.shuffled(SIZES)[:2]
        for place in get_args(Place):
            for size in SIZES:
                most = 0 if place == "bench" and size not in with_placers else 9 if place == "bench" else 48
                count = draw.number(3 if most < 10 else 12, most) if most else 0
                found.append(Item("counted", size, count, harvest=harvest, place=place, by=1))
    return found


def _faults_at(draw: Draw, order: list[Item], faults: tuple[Fault, ...]) -> dict[int, Fault]:
    """At which places what is built in; a count is short, so each line may have one.

    A number that is first given to a wrong harvest is one whose own group there is read later.
    """
    at: dict[int, Fault] = {}
    if "wrong harvest" in faults:
        size = draw.one(SIZES)
        at[[(each.place, each.size) for each in order].index(("dish", size))] = "wrong harvest"
    left = [place for place in range(len(order)) if place not in at]
    others = [each for each in faults if each != "wrong harvest"]
    return at | dict(zip(draw.shuffled(left)[: len(others)], draw.shuffled(others), strict=True))


def _said(draw: Draw, item: Item, fault: Fault | None, harvests: tuple[str, ...]) -> list[Line]:
    says = in_words(item, harvests)
    match fault:
        case "dropped graft":
            before = _counted(item, item.count - 1, item.harvest)
            right = f"one more of these lay on the floor: {item.count}, not {before.count}"
            return [Line(in_words(before, harvests), struck=before), Line(right, (item,), fault=fault)]
        case "undo":
            wrong = _counted(item, item.count + draw.number(1, 9), item.harvest)
            right = f"no, I misread that: {item.count}, not {wrong.count}"
            return [Line(in_words(wrong, harvests), struck=wrong), Line(right, (item,), fault=fault)]
        case "wrong harvest":
            other = next(each for each in harvests if each != item.harvest)
            wrong = _counted(item, item.count, other)
            right = f"no, those are harvest {item.harvest}'s; harvest {other}'s are still to come"
            return [Line(in_words(wrong, harvests), struck=wrong), Line(right, (item,), fault=fault)]
        case "held key":
            return [Line(f"{says}; keep the last digit pressed for two seconds", (item,), fault=fault)]
    return [Line(says, (item,))]


def _rest(found: list[Item], harvests: tuple[str, ...]) -> Line:
    none = tuple(each for each in found if not each.count)
    return Line("all others: none; then save the count", none)


def _counted(item: Item, count: int, harvest: str | None, by: int = 1) -> Item:
    return Item("counted", item.size, count, harvest=harvest, place=item.place, by=by)


def in_words(item: Item, harvests: tuple[str, ...] = ("A", "B")) -> str:
    """What was found in a group, as it is read; the harvest only where there are several."""
    of = f"harvest {item.harvest}, " if len(harvests) > 1 else ""
    place = "" if item.place is None else f"{PLACES_IN_A_WORD[item.place]}, "
    return f"{of}{place}{PLURAL[item.size]}: {item.count}"
