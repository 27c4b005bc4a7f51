"""A placing drill's lines: batches as placers call them, lane by lane, with what goes wrong in between."""

from typing import Final

from orroom.case.terms import SizeKey, lane_name
from orroom.drill.drawing import Draw
from orroom.drill.sheet import Fault, Item, Line
from orroom.figures.next_zone import sized

#: What each zone takes, and what it is called.
ZONES: Final[dict[str, tuple[SizeKey, ...]]] = {
    "LINE": ("1", "2"),
    "FRONT": ("1", "2", "3"),
    "CROWN": ("2", "3"),
}
NAMES: Final = {"LINE": "hairline", "FRONT": "frontal", "CROWN": "crown"}
#: The zone into which a batch is first said to have gone, where it has to be moved: it takes the same sizes.
TAKEN_FOR: Final = {"LINE": "FRONT", "FRONT": "LINE", "CROWN": "FRONT"}
#: By level: how many batches, in which lanes (none: nobody is in a lane), and what is built in.
LEVELS: Final[dict[int, tuple[int, tuple[str, ...], tuple[Fault, ...]]]] = {
    1: (12, (), ("dropped graft", "undo")),
    2: (16, ("a", "d"), ("dropped graft", "undo", "wrong zone", "held key")),
    3: (
        22,
        ("a", "d", "g"),
        ("dropped graft", "undo", "wrong zone", "held key", "new reader", "wrong zone"),
    ),
}
MOST_IN_A_BATCH: Final = 12


def placing_lines(level: int, draw: Draw) -> list[Line]:
    """The lines of a level."""
    batches, lanes, faults = LEVELS[level]
    at = dict(zip(draw.places(len(faults), batches, 2), draw.shuffled(faults), strict=True))
    lines: list[Line] = []
    batch = _batch(draw, lanes, None)
    for place in range(batches):
        before, batch = batch, _batch(draw, lanes, batch)
        match at.get(place):
            case "dropped graft":
                whose = f"{lane_name(batch.lane)}, " if batch.lane else ""
                asks = Item("discarded", batch.size, lane=batch.lane, reason="dropped")
                says = f"{whose}{sized(1, batch.size)} fell on the floor: discard it (dropped)"
                lines.append(Line(says, (asks,), fault="dropped graft"))
                batch = before
            case "undo":
                lines.append(Line(in_words(batch), struck=batch))
                lines.append(Line("no, not yet: undo that batch", fault="undo"))
            case "wrong zone":
                while batch.size not in ZONES[TAKEN_FOR[str(batch.zone)]]:
                    batch = _batch(draw, lanes, before)
                first = Item("placed", batch.size, batch.count, TAKEN_FOR[str(batch.zone)], batch.lane)
                lines.append(Line(in_words(first), struck=first))
                there = f"those {sized(batch.count, batch.size)} are in the {NAMES[str(batch.zone)]}"
                says = f"no, {there}: correct it"
                lines.append(Line(says, (batch,), fault="wrong zone"))
            case "held key":
                says = f"{in_words(batch)}; keep Enter pressed for two seconds"
                lines.append(Line(says, (batch,), fault="held key"))
            case "new reader":
                says = f"(somebody else reads on) the last was {in_words(before)}: it is entered"
                lines.append(Line(says, fault="new reader"))
                lines.append(Line(in_words(batch), (batch,)))
            case _:
                lines.append(Line(in_words(batch), (batch,)))
    return lines


def _batch(draw: Draw, lanes: tuple[str, ...], before: Item | None) -> Item:
    """A batch that differs from the one before in more than its lane."""
    while True:
        zone = draw.one(list(ZONES))
        size, count = draw.one(ZONES[zone]), draw.number(2, MOST_IN_A_BATCH)
        lane = draw.one(lanes) if lanes else None
        if before is None or (zone, size, count) != (before.zone, before.size, before.count):
            return Item("placed", size, count, zone, lane)


def in_words(batch: Item) -> str:
    """A batch as it is called out."""
    lane = f"{lane_name(batch.lane)}: " if batch.lane else ""
    return f"{lane}{sized(batch.count, batch.size)}, {NAMES[str(batch.zone)]}"
