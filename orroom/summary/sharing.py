"""What is left out of a summary before it is passed on. Pure: a summary in, a summary out.

``roles`` puts roles in the place of initials, adds people of a role together, and leaves out what is about
one person alone, and what the clinic called its reminders. ``anonymous`` also leaves out whatever somebody
typed: code, title, labels, keys, notes, reasons; and it counts times from the opening of the case.
"""

import re
from collections import Counter
from collections.abc import Iterable, Mapping
from typing import Any, Final, TypeVar, get_args

from orroom.case.closing import OPEN_KINDS
from orroom.case.mismatches import KINDS
from orroom.case.terms import CARE_WORDS, CAUTIONS, FAULTS, PLACERS_CARE, is_initials
from orroom.figures.differences import Cause
from orroom.figures.hands import WHAT
from orroom.summary.cautions import warnings
from orroom.summary.fields import Part, Text, is_moment, text_of
from orroom.summary.hands import ZoneHands
from orroom.summary.out_of_body import ALL_HARVESTS
from orroom.summary.paper_count import contradictions
from orroom.summary.people import PersonSummary
from orroom.summary.summary import ShareLevel, Summary
from orroom.summary.yields import IN_ALL
from orroom.words.entries import UNDONE

AnyPart = TypeVar("AnyPart", bound=Part)

#: The caution that readers at each level see.
SAID: Final[dict[ShareLevel, str]] = {
    "roles": (
        "Shared without people: roles replace initials. Notes and reasons are as typed: read them before "
        "you pass this on. A role held by one person identifies that person."
    ),
    "anonymous": (
        "Shared without people, dates and typed words; times count from 00:00, when the case was opened. "
        "Someone who knows the day can recognise it by its figures."
    ),
}
LEFT_OUT: Final = "left out"
NOBODY_KNOWN: Final = "other"
ANONYMOUS_CASE: Final = "ANONYMOUS"
#: The opening of an anonymous case: 2000-01-01 00:00 UTC.
BEGINNING_MS: Final = 946_684_800_000

_CAUSES: Final = re.compile(rf"(?:^|; )({'|'.join(get_args(Cause))}): ")

#: Faults that are not a clinic's own words.
OUR_FAULTS: Final = frozenset(fault for faults in FAULTS.values() for fault in faults)

#: What each kind of mismatch and broken limit is, and what the final count left open, in our own words.
KINDS_SAID: Final[dict[str, str]] = {**{name: kind.said for name, kind in KINDS.items()}, **OPEN_KINDS}


def shared(summary: Summary, level: ShareLevel) -> Summary:
    """The summary as it may be passed on at a level; ``full`` leaves it as it is."""
    if level == "full":
        return summary
    left = _Anonymous(summary) if level == "anonymous" else _ByRole(summary)
    by_role = left.part(summary)
    changes: dict[str, Any] = {
        "share_level": level,
        "people": _by_role(by_role.people),
        "zone_hands": _hands_by_role(by_role.zone_hands),
        "pace_by_person": (),
        "quality_by_person": (),
        "faults_by_person": (),
        "cautions": (*map(left.scrubbed, summary.cautions), SAID[level]),
    }
    if level == "anonymous":
        changes |= {
            "case": ANONYMOUS_CASE,
            "title": None,
            "seal": None,
            "utc_offset_minutes": 0,
            "cautions": (
                *warnings(summary.not_intact),
                *CAUTIONS,
                *contradictions(summary.paper_count),
                SAID[level],
            ),
        }
    return by_role.model_copy(update=changes)


def _by_role(people: tuple[PersonSummary, ...]) -> tuple[PersonSummary, ...]:
    found = []
    for role in sorted({each.who for each in people}):
        mine = [each for each in people if each.who == role]
        found.append(
            PersonSummary(
                who=role,
                role=None if role == NOBODY_KNOWN else role,
                entries=sum(each.entries for each in mine),
                cut_spoilt_left_out=_added(each.cut_spoilt_left_out for each in mine),
                placed=_added(each.placed for each in mine),
                divided=_added(each.divided for each in mine),
                discarded=_added(each.discarded for each in mine),
            )
        )
    return tuple(found)


def _hands_by_role(hands: tuple[ZoneHands, ...]) -> tuple[ZoneHands, ...]:
    together: dict[tuple[str, str], ZoneHands] = {}
    for each in hands:
        known = together.setdefault((each.zone, each.who), each)
        if known is not each:
            added = {what: getattr(known, what) + getattr(each, what) for what in WHAT}
            together[each.zone, each.who] = known.model_copy(update=added)
    return tuple(together.values())


def _added(counts: Iterable[Mapping[str, int]]) -> dict[str, int]:
    together: Counter[str] = Counter()
    for each in counts:
        together.update(each)
    return dict(together)


class _ByRole:
    """Every part again, with its texts by the name of their field, its moments and the parts within."""

    def __init__(self, summary: Summary) -> None:
        self.summary = summary
        self.roles = {each.who: each.role or NOBODY_KNOWN for each in summary.people}
        initials = sorted(map(re.escape, self.roles), key=len, reverse=True)
        self.initials = re.compile(rf"(?<!\w)(?:{'|'.join(initials) or '(?!)'})(?!\w)")
        self.reminders = {
            each.care: f"{CARE_WORDS['reminder']} {number}"
            for number, each in enumerate(summary.care, 1)
            if each.kind == "reminder"
        }

    def part(self, found: AnyPart) -> AnyPart:
        """The part with what may be passed on of it."""
        values: dict[str, Any] = {}
        for name, field in type(found).model_fields.items():
            value = getattr(found, name)
            if isinstance(value, Part):
                value = self.part(value)
            elif isinstance(value, tuple):
                value = tuple(self.part(each) if isinstance(each, Part) else each for each in value)
            elif isinstance(value, str) and (kind := text_of(field)):
                value = self.text(found, name, value, kind)
            elif value is not None and is_moment(field):
                value = self.moment(value)
            values[name] = value
        return type(found).model_validate(values)

    def moment(self, at_ms: int) -> int:
        """A time of day as it may be passed on."""
        return at_ms

    def text(self, part: Part, name: str, text: str, kind: Text) -> str:
        """A text of a part: a role for initials, alone or among words."""
        if kind is Text.PERSON:
            typed = name == "informed" and not is_initials(text)
            return self.roles.get(text) or (self.scrubbed(text) if typed else NOBODY_KNOWN)
        if name in ("care", "label") and (reminder := self.reminders.get(getattr(part, "care", ""))):
            return reminder if name == "label" else reminder.replace(" ", "-")
        return self.scrubbed(text) if kind in (Text.TYPED, Text.LABEL) else text

    def scrubbed(self, text: str) -> str:
        """A text with a role wherever initials of the case stand alone."""
        return self.initials.sub(lambda found: self.roles[found[0]], text)


class _Anonymous(_ByRole):
    """The same, without whatever somebody typed, and with times from the opening of the case."""

    def __init__(self, summary: Summary) -> None:
        super().__init__(summary)
        # the first of each is not a key of a plan and stays as it is
        self.keys = {
            "zone": {"": ""},
            "harvest": {ALL_HARVESTS: ALL_HARVESTS},
            "care": {PLACERS_CARE: PLACERS_CARE},
            "earlier_case": {"": ""},
        }
        self.keys["into_zone"] = self.keys["zone"]
        for named in (*summary.zones, *summary.harvests, *summary.care):
            for name in self.keys.keys() & type(named).model_fields:
                self.key(name, getattr(named, name))
        keys = [each.mismatch for each in summary.mismatches]
        keys += [each.mismatch for each in summary.left_open]
        keys += [each.limit for each in summary.broken_limits]
        keys += [each.mismatch for each in summary.still_open]
        self.mismatch_keys = list(dict.fromkeys(keys))

    def moment(self, at_ms: int) -> int:
        """Counted from the opening."""
        return at_ms - self.summary.opened + BEGINNING_MS

    def text(self, part: Part, name: str, text: str, kind: Text) -> str:
        """A text of a part: our own words, or a word of ours for what was typed."""
        match kind:
            case Text.PERSON:
                return self.roles.get(text, LEFT_OUT if name == "informed" else NOBODY_KNOWN)
            case Text.KEY:
                return self.key(name, text)
            case Text.LABEL:
                return self._what(part) if name == "what" else self._label(part)
            case Text.OURS:
                return text
            case Text.TYPED:
                return self._typed(part, name, text)

    def _typed(self, part: Part, name: str, text: str) -> str:
        match name:
            case "mismatch" | "limit":
                return f"{_kind(text)}:{self.mismatch_keys.index(text) + 1}"
            case "sentence":
                said = dict(part)
                return KINDS_SAID[_kind(said.get("mismatch") or said["limit"])]
            case "explanation":
                return "; ".join(dict.fromkeys(_CAUSES.findall(text))) or LEFT_OUT
            case "fault" if text in OUR_FAULTS:
                return text
        return text if text == UNDONE else LEFT_OUT

    def key(self, name: str, key: str) -> str:
        """A number in the place of a key: the same for the same key."""
        known = self.keys[name]
        return known.setdefault(key, str(len(known)))

    def _label(self, part: Part) -> str:
        values = dict(part)
        if zone := values.get("zone"):
            kinds = {each.zone: each.kind for each in self.summary.zones}
            return f"{kinds.get(zone) or 'zone'} {self.key('zone', zone)}"
        if care := values.get("care"):
            if care == PLACERS_CARE:
                return "wetting the grafts with the placers"
            rounds = {each.care: CARE_WORDS[each.kind] for each in self.summary.care if each.kind}
            return f"{rounds.get(care, 'care')} {self.key('care', care)}"
        return _size_words(values["size"]) if "size" in values else self._harvest_words(values["harvest"])

    def _what(self, part: Part) -> str:
        values = dict(part)
        if size := values["size"]:
            return _size_words(size)
        return self._harvest_words(values["harvest"]) if values["harvest"] else IN_ALL

    def _harvest_words(self, harvest: str) -> str:
        return harvest if harvest == ALL_HARVESTS else f"harvest {self.key('harvest', harvest)}"


def _size_words(size: str) -> str:
    return "multi-unit" if size == "M" else f"{size} hair{'' if size == '1' else 's'}"


def _kind(mismatch: str) -> str:
    return mismatch.split(":", 1)[0]
