"""The prompts of a replayed moment: what was due then, in words that nobody takes for an order of now."""

from orroom.case.state import CaseState
from orroom.case.terms import PLACERS_CARE
from orroom.figures.case_times import case_times
from orroom.figures.prompts import Prompt, prompts, urgent_first
from orroom.figures.wording import clock_time, when_due
from orroom.screens.terminal.painting import Line, Span, clipped, line, wrapped


def past_prompt_lines(state: CaseState, at_ms: int, width: int, rows: int) -> list[Line]:
    """What was due then and what came next, the most urgent first, in ``rows`` lines at most; small, grey."""
    found = [each for each in urgent_first(prompts(state, at_ms)) if each.step not in {"resting", "paused"}]
    if not found:
        return []
    start = f"then, at {clock_time(at_ms, case_times(state))}: "
    lines: list[Line] = []
    for left_out in range(len(found)):
        shown = [_words(each) for each in found[: len(found) - left_out]]
        more = [f"and {left_out} more"] if left_out else []
        lines = [
            line(Span(f" {row}", "dim")) for row in wrapped(start + " · ".join([*shown, *more]), width - 2)
        ]
        if len(lines) <= rows:
            return lines
    return [line(Span(clipped(f" {start}{_words(found[0])}", width - 1), "dim"))]


def _words(prompt: Prompt) -> str:
    when = when_due(prompt.late_ms, seconds=prompt.care == PLACERS_CARE)
    return f"{prompt.label} {'due' if prompt.step == 'due' else when}"
