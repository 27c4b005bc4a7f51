"""What is refused: only what cannot mean anything. One function a rule, listed in one of two tables.

A rule looks at an event that is about to be recorded and answers with what would be right, or ``None``. It is
asked only of the kinds of events that its ``event`` is annotated with; a tap meets a dozen of forty.
The first line of its docstring is the sentence that a user reads.

A tap has to pass both tables; an entry of an events file only the rules of form. Whether an entry made sense
when it was made was decided then, by the rules of that day: a rule that came later must not keep it out.
"""

from collections.abc import Callable
from functools import cache
from typing import Any, Final, get_type_hints

from msgspec import Struct

from orroom.case.events import Event, Stamp
from orroom.case.refusals import care, corrections, counting, form, grafts, lanes, opening, people
from orroom.case.state import CaseState


class Refusal(Struct, frozen=True):
    """Why an entry was not made: the rule's name and sentence, and what would be right."""

    rule: str
    sentence: str
    right: str

    def __str__(self) -> str:
        return f"{self.sentence} {self.right}".strip()


Rule = Callable[[CaseState, Any, Stamp], str | None]

#: What an entry must be to be an entry at all, in the order they are asked. Every record that was ever made
#: passes them, so no rule is added here but for a kind of event or a field that is new with it.
OF_FORM: Final[tuple[Rule, ...]] = (
    form.refuse_nobody,
    form.refuse_nameless_station,
    form.refuse_impossible_time,
    opening.refuse_before_opening,
    opening.refuse_second_opening,
    opening.refuse_another_case,
    people.refuse_team_that_cannot_be,
    corrections.refuse_impossible_move,
    form.refuse_unknown_zone,
    form.refuse_unknown_size,
    form.refuse_unknown_harvest,
    lanes.refuse_unknown_lane,
    grafts.refuse_count_out_of_range,
    grafts.refuse_drawn_unlike_count,
    grafts.refuse_drawn_from_elsewhere,
    grafts.refuse_hairs_from_nowhere,
    grafts.refuse_unknown_reason,
    grafts.refuse_more_faults_than_looked_at,
    grafts.refuse_faults_unlike_faulty,
    grafts.refuse_follicles_without_sense,
    care.refuse_unknown_care,
    care.refuse_temperature_without_sense,
    corrections.refuse_nothing_to_take_back,
    corrections.refuse_correction_of_nothing,
    corrections.refuse_cancelling_what_was_moved,
    counting.refuse_unknown_sign_out_item,
    counting.refuse_zone_unlike_fate,
    form.refuse_unreadable_text,
    form.refuse_version_without_number,
)
#: What a tap must not be in the case as it is now; they may rely on what the rules of form have refused.
OF_THE_MOMENT: Final[tuple[Rule, ...]] = (
    form.refuse_step_known_already,
    opening.refuse_after_sign_off,
    opening.refuse_reopening_an_open_case,
    opening.refuse_same_person_twice,
    opening.refuse_other_earlier_cases,
    opening.refuse_plan_that_forgets,
    people.refuse_break_that_cannot_be,
    people.refuse_endless_break,
    lanes.refuse_lane_that_is_open,
    lanes.refuse_handing_over_to_a_placer,
    lanes.refuse_closing_a_lane_with_grafts,
    grafts.refuse_sites_where_placing_makes_them,
    grafts.refuse_tallied_unlike_record,
    grafts.refuse_second_harvest,
    grafts.refuse_cutting_what_was_kept,
    grafts.refuse_harvest_in_future,
    grafts.refuse_unknown_segment,
    grafts.refuse_length_without_sense,
    counting.refuse_giving_up_no_count,
    counting.refuse_fate_of_more_than_is_left,
    counting.refuse_count_without_sense,
    counting.refuse_closing_on_what_is_open,
    counting.refuse_reason_for_nothing_open,
    care.refuse_endless_pause,
    corrections.refuse_impossible_correction,
    corrections.refuse_unknown_mismatch,
    care.refuse_answer_to_no_limit,
)
RULES: Final[tuple[Rule, ...]] = (*OF_FORM, *OF_THE_MOMENT)


def refusal_of(
    state: CaseState, event: Event, stamp: Stamp, rules: tuple[Rule, ...] | None = None
) -> Refusal | None:
    """The first of the ``rules`` (else of all) that refuses ``event`` in ``state``, or ``None``."""
    for rule in _rules_about(type(event), rules or RULES):
        right = rule(state, event, stamp)
        if right is not None:
            return Refusal(rule.__name__, (rule.__doc__ or "").splitlines()[0], right)
    return None


@cache
def _rules_about(kind: type[Event], rules: tuple[Rule, ...]) -> tuple[Rule, ...]:
    """The rules that take this kind of event, in their order."""
    return tuple(rule for rule in rules if issubclass(kind, _taken_by(rule)))


@cache
def _taken_by(rule: Rule) -> Any:  # noqa: ANN401  # a kind of event, or several
    return get_type_hints(rule)["event"]
