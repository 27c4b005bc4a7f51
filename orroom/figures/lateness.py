"""How pressing a prompt is: it grows in steps, so that it can grow in size and in words."""

from __future__ import annotations

from typing import Literal, get_args

from orroom.case.plan import Plan
from orroom.case.terms import BENCH_CARE
from orroom.figures.prompts import Prompt

#: From an old record's and counting down to long overdue, least pressing first.
Step = Literal["resting", "paused", "waiting", "due", "overdue", "long overdue"]
STEPS: tuple[Step, ...] = get_args(Step)

#: What is overdue is long overdue after its grace again, but not before this: a grace may be 0.
LEAST_MS = 60_000


def step_of(prompt: Prompt, plan: Plan) -> Step:
    """How pressing ``prompt`` is now; long overdue once it is later than its grace and that time again."""
    if prompt.status != "overdue":
        return prompt.status
    grace = _grace_ms(prompt.care, plan)
    return "long overdue" if prompt.late_ms > grace + max(grace, LEAST_MS) else "overdue"


def _grace_ms(care: str, plan: Plan) -> int:
    """How late a round may be before it is overdue, ms."""
    if care == BENCH_CARE:
        return plan.limits.bench_grace_seconds * 1000
    return round(plan.care_by_key[care].grace_minutes * 60_000)
