"""To learn with: practice with a lesson, drills with a score, and a trainee's curve."""

from collections.abc import Generator
from functools import partial
from typing import Final

from orroom.demo.lessons import LessonName
from orroom.drill.sheet import KINDS, LARGEST_SEED, LEVELS, Kind
from orroom.screens.start.chosen import BAR, Chosen, Flow, Offered, numbered
from orroom.screens.start.lines import NOWHERE, Menu

#: What each level of a drill has built in.
BUILT_IN: Final = {
    1: "dropped grafts, something to undo",
    2: "also corrections, a held key, prompts",
    3: "all of these, and a change of reader",
}
#: What each lesson of practice teaches.
LESSONS: Final[dict[LessonName, str]] = {
    "cutting": "the keys of a cutting station, in two minutes",
    "placing": "batches, lanes, a wrong zone, at a placing station",
    "count": "the final count by two people, to the sign-off",
}
#: In place of a drill: to go on with the one that was cut off.
RESUME: Final = "resume"


def learning_menu() -> Menu:
    """What can be practised, and drills."""
    offered = [
        *(Offered(f"practice: {says}", Chosen("practice", typed=name)) for name, says in LESSONS.items()),
        *(Offered(f"drill: {each}", partial(drill, each)) for each in KINDS),
        Offered("the sheet of a drill, to print or to read aloud", sheet, "s"),
        Offered("go on with a drill that was cut off", resume, "g"),
        Offered("your curve of drills", curve, "c"),
    ]
    about = "A drill is a sheet that is read aloud and entered at a real station; then you see a score."
    return Menu("Practice and drills", (about,), numbered(*offered), BAR)


def drill(kind: Kind) -> Flow:
    """Which sheet of a kind is entered, and by whom."""
    named = yield from _which(kind)
    return Chosen("drill", who=str((yield _who("Who enters it?"))), typed=named)


def sheet() -> Flow:
    """Which sheet is shown and written to a file."""
    kind = yield Menu(
        "The sheet of which drill?", (), numbered(*(Offered(each, each) for each in KINDS)), BAR
    )
    return Chosen("drill sheet", typed=(yield from _which(str(kind))))


def _which(kind: str) -> Generator[Menu, object, str]:
    """A kind's level and number, in words: ``cutting 2 417``."""
    levels = numbered(*(Offered(f"level {level}: {BUILT_IN[level]}", level) for level in LEVELS))
    level = yield Menu(f"Drill, {kind}: how hard?", (), levels, BAR)
    about = f"1 to {LARGEST_SEED}. The same number is the same sheet on every machine."
    title = f"Drill, {kind}, level {level}: which sheet?"
    number = yield Menu(title, (about,), (), BAR, asks="Number of the sheet:")
    return f"{kind} {level} {number}"


def resume() -> Flow:
    """Whose drill goes on."""
    return Chosen("drill", who=str((yield _who("Whose drill?"))), typed=RESUME)


def curve() -> Flow:
    """Whose curve is shown."""
    return Chosen("drill curve", who=str((yield _who("Whose curve?"))))


def _who(title: str) -> Menu:
    about = "The figures go into your own file, next to the settings, and nowhere else."
    return Menu(title, (about,), (), BAR, asks="Your initials:", initials=True, begin=NOWHERE)
