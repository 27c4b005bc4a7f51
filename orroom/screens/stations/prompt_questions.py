"""What is asked about prompts: which care was done, what a thermometer shows, which prompt is to rest."""

from collections.abc import Iterable, Sequence

from orroom.case import commands as c
from orroom.case.terms import PLACERS_CARE
from orroom.figures.prompts import Prompt
from orroom.figures.wording import when_due
from orroom.screens.stations.questions import NUMBER_KEYS
from orroom.screens.terminal.asking import Choice, Dialogue, Number, Option


def _key(prompt: Prompt) -> str:
    """The key of a prompt in every list: a round's number in the plan, a lane's letter."""
    return prompt.lane or NUMBER_KEYS[prompt.number]


def _rounds(found: Iterable[Prompt]) -> tuple[Option, ...]:
    """Care rounds by their keys, in whatever order they come."""
    return tuple(Option(_key(each), each.label, each) for each in found)


def give_care(prompt: Prompt) -> Dialogue:
    """The reading of a temperature round."""
    reading = yield Number(
        f"{prompt.label}: reading",
        "°C",
        decimals=True,
        means="What the thermometer shows.",
        unhurried=True,
    )
    return c.GiveCare(care=prompt.care, temperature_c=reading)


def give_early(prompt: Prompt) -> Dialogue:
    """Care that a click says was given before it was due."""
    when = "is paused" if prompt.status in {"paused", "resting"} else f"is due {when_due(prompt.late_ms)}"
    options = (Option("y", "done now", True), Option("n", "not done", False))
    given = yield Choice(f"{prompt.label} {when}. Done now?", options)
    return c.GiveCare(care=prompt.care, lane=prompt.lane) if given else None


def which_was_done(due: Sequence[Prompt], first: Prompt, again: str) -> Dialogue:
    """Which of several due prompts was done: the key that asked, ``again``, or Enter takes the ``first``."""
    others = _rounds(each for each in due if each.key != first.key)
    if again in {each.key for each in others}:  # bound by a clinic
        again = "enter"
    option = Option(again, first.label, first, also=("enter", _key(first)))
    done = yield Choice(
        "Which was done?",
        (option, *others),
        means="Several are due. Each is entered by itself: one answer is one of them.",
    )
    if not done.takes_reading:
        return c.GiveCare(care=done.care, lane=done.lane)
    return (yield from give_care(done))


def answer_which(found: tuple[Prompt, ...]) -> Dialogue:
    """Care that nobody is prompted for yet: which round was given."""
    care = yield Choice("Which care was done?", _rounds(found))
    if not care.takes_reading:
        return c.GiveCare(care=care.care, lane=care.lane)
    return (yield from give_care(care))


def pause(found: tuple[Prompt, ...]) -> Dialogue:
    """Which prompt to pause, and for how many minutes."""
    rounds = tuple(prompt for prompt in found if prompt.care != PLACERS_CARE)
    care = yield Choice(
        "Pause which prompt?",
        _rounds(rounds),
        means="A paused prompt comes back by itself.",
    )
    minutes = yield Number("for how many minutes?", "min")
    return c.PausePrompt(care=care.care, minutes=minutes)
