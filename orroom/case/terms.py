"""The words of the trade that are stored or shown, one per thing, and the patterns they must match."""

import re
import unicodedata
from typing import Final, Literal, get_args

Role = Literal["cutting", "placing", "overview"]
ROLES: Final[tuple[Role, ...]] = get_args(Role)

#: What somebody of the team does: a station's work, keeping the record, operating.
StaffRole = Literal[Role, "record", "surgeon"]
STAFF_ROLES: Final[tuple[StaffRole, ...]] = get_args(StaffRole)

Theme = Literal["dark", "light"]

#: What the terminal's bell rings for besides refusals: nothing; prompts; prompts and every entry made here.
Bell = Literal["off", "prompts", "taps"]

#: Why a graft was discarded. Common practice, no source.
DiscardReason = Literal["transected", "dried", "crushed", "empty", "dropped"]
DISCARD_REASONS: Final[tuple[DiscardReason, ...]] = get_args(DiscardReason)

Side = Literal["left", "centre", "right"]

#: What a recipient zone is. ``hairline`` is its front, where hairs stand singly; what follows is ``frontal``.
ZoneKind = Literal[
    "hairline",
    "temporal",
    "lateral-hump",
    "frontal",
    "mid-scalp",
    "vertex-transition",
    "vertex",
    "part-line",
    "scar",
]

#: The three works that a case is waiting for, and what each is done to.
Work = Literal["cutting", "sites", "placing"]
WORKS: Final[tuple[Work, ...]] = get_args(Work)
WORK_NAMES: Final[dict[Work, str]] = {"cutting": "cutting", "sites": "making sites", "placing": "placing"}

#: What is said aloud at the end, as far as this tool is concerned: WHO Surgical Safety Checklist 2009, sign
#: out (the first four read, the last paraphrased).
SignOutItem = Literal["procedure", "counts", "specimens", "equipment", "recovery"]
SIGN_OUT: Final[dict[SignOutItem, str]] = {
    "procedure": "the name of the procedure is recorded",
    "counts": "instrument, sponge and needle counts are correct, or do not apply",
    "specimens": "specimens are labelled",
    "equipment": "equipment problems are named",
    "recovery": "concerns for recovery are named",
}

#: What a care round asks for.
CareKind = Literal["wet", "renew", "temperature", "reminder"]
CARE_WORDS: Final[dict[CareKind, str]] = {
    "wet": "wetting",
    "renew": "changing solution",
    "temperature": "temperature",
    "reminder": "reminder",
}

#: What a spot check looks at.
CheckSubject = Literal["cutting", "placing"]

#: Faults that a spot check may find, where the clinic has no list of its own. Common practice, no source.
FAULTS: Final[dict[CheckSubject, tuple[str, ...]]] = {
    "placing": (
        "too deep",
        "too high",
        "turned",
        "wrong direction",
        "two in one site",
        "empty site",
        "neighbouring hair hurt",
        "crushed",
    ),
    "cutting": ("too much tissue", "too little tissue", "transected", "wrong size", "dried"),
}

#: Why keys were set aside: one held down, more at once than a hand can press, or a key that bounced.
SetAsideCause = Literal["held", "burst", "bounce"]

#: Where a waiting graft can be: in holding solution, or handed to a placer.
Place = Literal["dish", "bench"]  # as a record calls them
PLACES: Final[dict[Place, str]] = {"dish": "in dishes", "bench": "with the placers"}
PLACES_IN_A_WORD: Final[dict[Place, str]] = {"dish": "dish", "bench": "placers"}

#: What the tally keeps a graft under: where it came from, or where it is or went.
Account = Literal[
    "kept_before",
    "cut",
    "divided_in",
    "dish",
    "bench",
    "placed",
    "discarded",
    "divided_out",
    "missing",
    "left_at_end",
]

#: What becomes of a graft that is left at the end.
Fate = Literal["kept", "left over", "returned to donor", "discarded", "placed extra"]
FATES: Final[dict[Fate, str]] = {
    "kept": "kept in solution for another day",
    "left over": "left over",
    "returned to donor": "returned to the donor area",
    "discarded": "discarded at the end",
    "placed extra": "placed beyond the plan",
}

#: Sizes a plan may use, in the order they are shown: hairs per graft, and ``M`` for multi-unit.
SizeKey = Literal["1", "2", "3", "4", "M"]
SIZE_KEYS: Final[tuple[str, ...]] = get_args(SizeKey)
SIZE_NAMES: Final = {"1": "one", "2": "two", "3": "three", "4": "four", "M": "multi-unit graft"}


def size_named(size: str, count: float = 2) -> str:
    """A size as a noun: ``two`` or ``twos``; one that no plan may have as ``graft of size x``."""
    name, of = (SIZE_NAMES[size], "") if size in SIZE_NAMES else ("graft", f" of size {size}")
    return f"{name}{'s' * (count != 1)}{of}"


# The end is "$" with no line feed after it: Python's "$" alone lets one more line feed through.
CASE_CODE: Final = r"^[A-Z0-9][A-Z0-9_-]{0,31}$(?!\n)"
ZONE_KEY: Final = r"^[A-Z0-9][A-Z0-9-]{0,11}$(?!\n)"
LANE_KEY: Final = r"^[a-z]$(?!\n)"
#: The letters of lanes, in the order in which they are given out: no other key at placing has one.
LANE_LETTERS: Final = "adglqy"
HARVEST_KEY: Final = r"^[A-Z0-9]{1,4}$(?!\n)"
CARE_KEY: Final = r"^[a-z][a-z0-9-]{0,15}$(?!\n)"
CLOCK_TIME: Final = r"^([01][0-9]|2[0-3]):[0-5][0-9]$(?!\n)"
#: The pieces of a divided graft, such as ``1+2``.
DIVISION: Final = r"^[1-4](\+[1-4]){0,11}$(?!\n)"
STATION: Final = r"^[a-z][a-z-]{0,19}[0-9]{0,6}$(?!\n)"
INITIALS: Final = r"^[A-Z][A-Z0-9]{0,3}$(?!\n)"
#: A version of the program.
VERSION: Final = r"^[0-9]{1,6}(\.[0-9]{1,6}){1,3}([a-z]{1,4}[0-9]{0,6})?$(?!\n)"

#: What the first record called a field, by its name today: stored bodies go on under the old name, so that an
#: entry has one text and one hash, whichever version wrote it.
AS_RECORDED: Final = {
    "groups": "piles",
    "harvest": "lot",
    "harvests": "lots",
    "informed": "told",
    "with_placers_grace_seconds": "bench_grace_seconds",
    "with_placers_seconds": "bench_seconds",
}

#: The care round of grafts that wait with the placers; not in the plan's table, its limit is.
PLACERS_CARE: Final = "bench"

MAX_COUNT: Final = 10_000
MAX_LABEL: Final = 40
MAX_TEXT: Final = 200

#: Unicode categories of characters that leave no mark of their own: controls, formats (bidirectional and
#: zero-width ones among them), surrogates, private and unassigned code points, line and paragraph separators.
_HIDDEN: Final = frozenset({"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"})


#: This many marks on one letter no language writes; more would run over the lines above and below.
MAX_MARKS: Final = 3


def clean(text: str) -> str:
    """Text as it is kept: composed (Unicode NFC), without spaces around it."""
    return unicodedata.normalize("NFC", text).strip()


def hidden_character(text: str) -> str | None:
    """The first character that leaves no readable mark, as ``U+202E``, or ``None``.

    Controls, bidirectional and zero-width characters, and more combining marks on a letter than writing has.
    """
    marks = 0
    for character in text:
        category = unicodedata.category(character)
        marks = marks + 1 if category in {"Mn", "Me"} else 0
        if category in _HIDDEN or marks > MAX_MARKS:
            return f"U+{ord(character):04X}"
    return None


def visible(text: str) -> str:
    """Text for a screen or a report: ``�`` for every character that leaves no mark of its own."""
    if text.isprintable():
        return text
    if "\n" in text:
        return "\n".join(visible(line) for line in text.split("\n"))
    return "".join("�" if unicodedata.category(each) in _HIDDEN else each for each in text)


def is_initials(text: str) -> bool:
    """Whether ``text`` can be a person's initials: a capital, then up to three capitals or digits."""
    return re.fullmatch(INITIALS, text) is not None


CAUTIONS: Final = (
    "orroom is a counting and timing aid, not a medical device.",
    "It gives no advice on a patient; every threshold is the surgeon's own setting.",
    "Local codes and licensed practice prevail; the paper count stays the fallback.",
)


def lane_name(letter: str) -> str:
    """A lane by its letter: ``lane a``. An l is written L: it would be read as the digit 1."""
    return f"lane {'L' if letter == 'l' else letter}"
