"""What may stand over a station's screen, for its help: its keys, and what its numbers and marks mean."""

from typing import Final

from msgspec import Struct


class OverKey(Struct, frozen=True):
    """A key as it is written, what it does, and its plain name if the help has a button for it.

    Esc has none: in a help it leads back first; nor has what takes what is typed, which the help hides.
    """

    shown: str
    does: str
    press: str = ""


class Over(Struct, frozen=True):
    """What lies over a screen; ``alone`` if of the screen's own keys only that for a prompt works."""

    name: str
    keys: tuple[OverKey, ...]
    numbers: tuple[tuple[str, str], ...]
    alone: bool = False


COUNTING: Final = Over(
    "the final count",
    (
        OverKey("0–9", "type how many there are; 0 if there are none"),
        OverKey("z", "0 for every group that never had a graft by the record, after a question", "z"),
        OverKey("Enter", "next group; after the last one, save the count"),
        OverKey("↑", "previous group", "up"),
        OverKey("↓", "next group", "down"),
        OverKey("⌫", "delete the last digit"),
        OverKey("Esc", "clear the number, or stop the count"),
    ),
    (
        ("group", "one size of one harvest, in its dish or with the placers"),
        ("○ ●", "to be counted; counted"),
        ("2 of 8", "groups counted; saved only when complete"),
        ("blind", "the tally and other counts are hidden"),
    ),
    alone=True,
)

COMPARING: Final = Over(
    "the two counts",
    (
        OverKey("↑", "previous group", "up"),
        OverKey("↓", "next group; what may explain it is below the table", "down"),
        OverKey("r", "recount the groups that differ (no longer blind)", "r"),
        OverKey("a", "accept the number that both found: the tally is set to it, the cause is asked", "a"),
        OverKey("g", "say what becomes of the grafts that are left", "g"),
        OverKey("o", "sign off by two people: asks about what is open, closes the case", "o"),
        OverKey("→", "next page", "right"),
        OverKey("←", "previous page", "left"),
        OverKey("Esc", "back to the overview"),
    ),
    (
        ("tally", "what the record says of the group"),
        ("AB CD", "what each of the two found there"),
        ("● ≠", "both counts and the tally agree; they differ"),
    ),
)

REPLANNING: Final = Over(
    "the re-plan",
    (
        OverKey("a", "accept it, after its last page and a question", "a"),
        OverKey("→", "next page", "right"),
        OverKey("←", "previous page", "left"),
        OverKey("Esc", "close it; nothing is entered"),
    ),
    (
        ("12→15", "grafts planned now and as proposed; hairs/cm² too"),
        ("expected", "grafts of that size in the end: given, projected from the cutting, or by plan"),
        ("used, left", "used by the proposal, and left over"),
    ),
)
