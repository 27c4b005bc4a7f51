"""Which care is coming, due or overdue, and how pressing it is. Prompts are information, not alarms."""

from collections.abc import Sequence
from typing import Final, Literal, get_args

from msgspec import Struct
from msgspec.structs import replace

from orroom.case.care import against_band, due_at_ms, since_by_lane_ms
from orroom.case.final_count import count_running
from orroom.case.plan import CareRound
from orroom.case.state import CareClock, CaseState, Tally, at_a_time
from orroom.case.terms import PLACERS_CARE, lane_name
from orroom.figures.lanes import held_in
from orroom.figures.next_zone import sized
from orroom.figures.wording import several

Status = Literal["waiting", "paused", "due", "overdue", "resting"]
#: As it is shown, from an old record's and counting down to late, least pressing first.
Step = Literal["resting", "paused", "waiting", "due", "late"]
STEPS: Final[tuple[Step, ...]] = get_args(Step)

#: What is due is shown as late from so many ms on, whatever its grace: ``due now`` is true for a minute.
LATE_MS: Final = 60_000

#: A reading outside its band, by which side of it.
TOO: Final = {"above": "too warm", "below": "too cold"}

#: What is due within this is near, ms: there is time to reach for the bottle. Common practice, no source.
NEAR_MS: Final = 120_000

#: A round that was due before a silence of so long, ms, does not run: nobody was at this case any more. No
#: operation goes on for 6 h without an entry; common practice, no source.
SILENCE_MS: Final = 6 * 3_600_000


class Prompt(Struct, frozen=True):
    """One care round as it stands now. Times in UTC ms; ``late_ms`` is negative while it counts down.

    It is overdue once it is later than ``grace_ms``. ``number`` is its place in the plan, from 1, by which
    every list offers it; grafts with the placers have 0. ``lane`` is whose grafts are to be wetted, ``None``
    if they are in none. ``silent_from_ms`` is the last entry before the silence that a ``resting`` round was
    due before.
    """

    care: str
    label: str
    status: Status
    due_at_ms: int
    late_ms: int
    grace_ms: int
    number: int = 0
    paused_until_ms: int | None = None
    takes_reading: bool = False
    reading_remark: str | None = None
    silent_from_ms: int | None = None
    lane: str | None = None

    @property
    def key(self) -> str:
        """Which one it is among all: its care, with its lane behind a colon."""
        return key_of(self.care, self.lane)

    @property
    def brief(self) -> str:
        """What to do in a few words, for digits that are read from afar: ``wet grafts``, ``wet lane a``."""
        if self.care != PLACERS_CARE:
            return self.label
        return "wet grafts" if self.lane is None else f"wet {lane_name(self.lane)}"

    @property
    def pressing(self) -> bool:
        """Whether it is due or overdue."""
        return self.status in {"due", "overdue"}

    @property
    def near(self) -> bool:
        """Whether it is due soon, and not yet."""
        return self.status == "waiting" and -self.late_ms <= NEAR_MS

    @property
    def step(self) -> Step:
        """How it is shown: due in its first minute, then late; its grace says what is overdue by the plan."""
        if self.status in {"resting", "paused", "waiting"}:
            return self.status
        return "due" if self.late_ms < LATE_MS else "late"


def key_of(care: str, lane: str | None) -> str:
    """The key of the prompt for this care, or for this care of one lane."""
    return care if lane is None else f"{care}:{lane}"


def given_at_ms(tally: Tally, prompt: Prompt) -> int:
    """When a prompt was last answered, UTC ms; 0 if never."""
    if prompt.lane is not None:
        return tally.lanes[prompt.lane].wetted_at_ms if prompt.lane in tally.lanes else 0
    return tally.care.get(prompt.care, CareClock()).given_at_ms or 0


@at_a_time
def prompts(state: CaseState, now_ms: int) -> tuple[Prompt, ...]:
    """Grafts with the placers first, then the plan's rounds in its order.

    Empty after sign-off, and but for reminders before the first harvest. What was due before a silence of
    ``SILENCE_MS`` rests: the record is an old one, and how late it is now means nothing. Given once more, it
    runs again.
    """
    if state.tally.plan is None or state.tally.signed_off:
        return ()
    found = _placers_prompts(state, now_ms)
    for number, round_ in enumerate(state.plan.care, 1):
        due = due_at_ms(state.tally, round_.key)
        if due is not None:
            found.append(_round_prompt(state, round_, number, due, now_ms))
    return tuple(_or_at_rest(state, each, now_ms) for each in found)


def urgent_first(found: Sequence[Prompt]) -> tuple[Prompt, ...]:
    """The latest first, then those counting down, each by when it is due; paused ones and old ones last."""
    rank = {"overdue": 0, "due": 0, "waiting": 1, "paused": 2, "resting": 3}
    return tuple(sorted(found, key=lambda prompt: (rank[prompt.status], prompt.due_at_ms)))


def stopped_ms(state: CaseState, now_ms: int) -> int | None:
    """The last entry before the silence since which no prompt runs (UTC ms); ``None`` while any runs."""
    care = prompts(state, now_ms)
    silent = [each.silent_from_ms for each in care if each.status == "resting"]
    return silent[0] if silent and len(silent) == len(care) else None


def _or_at_rest(state: CaseState, prompt: Prompt, now_ms: int) -> Prompt:
    """The prompt; at rest from the last entry before a silence of ``SILENCE_MS`` since it was due."""
    later = now_ms
    for entry in reversed(state.log) if now_ms - prompt.due_at_ms >= SILENCE_MS else ():
        at = entry.stamp.at_ms
        if later - max(at, prompt.due_at_ms) >= SILENCE_MS:
            return replace(prompt, status="resting", silent_from_ms=at)
        if at < prompt.due_at_ms:
            break
        later = at
    return prompt


def _round_prompt(state: CaseState, round_: CareRound, number: int, due: int, now_ms: int) -> Prompt:
    paused_until = state.tally.care.get(round_.key, CareClock()).paused_until_ms
    paused = paused_until is not None and now_ms < paused_until
    grace = round(round_.grace_minutes * 60_000)
    return Prompt(
        care=round_.key,
        label=round_.label,
        status="paused" if paused else _status(now_ms - due, grace),
        due_at_ms=due,
        late_ms=now_ms - due,
        grace_ms=grace,
        number=number,
        paused_until_ms=paused_until if paused else None,
        takes_reading=round_.kind == "temperature",
        reading_remark=_remark(state, round_),
    )


def _placers_prompts(state: CaseState, now_ms: int) -> list[Prompt]:
    """One for each lane with grafts, the longest dry first; one for those handed out without a lane."""
    limits, lanes = state.plan.limits, state.tally.lanes
    grace = limits.with_placers_grace_seconds * 1000
    found = []
    for lane, since in sorted(
        since_by_lane_ms(state.tally).items(), key=lambda each: (each[1], each[0] or "")
    ):
        due = since + limits.with_placers_seconds * 1000
        label = "wet the grafts with the placers"
        if lane is not None:
            whose = f" ({lanes[lane].by})" if lane in lanes else ""
            label = f"wet {lane_name(lane)}'s {_grafts_in(state, lane)}{whose}"
        late = now_ms - due
        found.append(Prompt(PLACERS_CARE, label, _status(late, grace), due, late, grace, lane=lane))
    return found


def _grafts_in(state: CaseState, lane: str) -> str:
    """What is in a lane in a few words: ``20 twos``, or ``25 grafts`` of several sizes.

    ``grafts`` alone while a final count is made.
    """
    if count_running(state) is not None:
        return "grafts"
    held = held_in(state, lane)
    if len(held) == 1:
        [(size, count)] = held.items()
        return sized(count, size)
    return several(sum(held.values()), "graft")


def _status(late_ms: int, grace_ms: int) -> Status:
    if late_ms < 0:
        return "waiting"
    return "due" if late_ms <= grace_ms else "overdue"


def _remark(state: CaseState, round_: CareRound) -> str | None:
    """What to say of the last reading if it was outside its band."""
    reading = state.tally.care.get(round_.key, CareClock()).reading_c
    if reading is None:
        return None
    where = against_band(reading, round_.low_c, round_.high_c)
    return None if where == "in" else f"last {reading:.1f} °C, {TOO[where]}"
