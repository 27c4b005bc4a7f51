"""A sheet to read aloud, and a score in words: what slipped, where, how fast, and what would help most."""

from collections.abc import Sequence
from textwrap import wrap
from typing import Final

from orroom.case.terms import SIZE_NAMES, lane_name
from orroom.drill.count_sheet import in_words as counted_in_words
from orroom.drill.cutting_sheet import size_in_words
from orroom.drill.placing_sheet import in_words as placed_in_words
from orroom.drill.score import ROWS, Score, Slip
from orroom.drill.sheet import Fault, Item, Line, Sheet
from orroom.drill.times import ASSUMES, Typical
from orroom.figures.shares import Proportion
from orroom.figures.wording import decimal, percent, several

WIDTH: Final = 79
#: So many lines are together on a printed sheet.
TOGETHER: Final = 5
#: An answer that took longer than this was slow. Common practice, no source.
SLOW_ANSWER_SECONDS: Final = 20.0
#: What to do about slips at what is built into a sheet. Common practice, no source.
AT_A_FAULT: Final[dict[Fault, str]] = {
    "dropped graft": "A dropped graft is discarded, with its reason; it is never entered like a good one.",
    "undo": "Undo at once, before the next line is read, and look whether the last entry is gone.",
    "wrong size": "Undo the wrong size first, look, and only then tap the right one.",
    "wrong zone": "Move a batch to its real zone as soon as you hear of it, before the next number.",
    "wrong harvest": "Go back to the wrong row first, then to the right one; read both before you save.",
    "held key": "A held key is one graft: answer n when the station asks.",
    "new reader": "After a change of reader, look at the last entry on the screen before you go on.",
}
#: What to do about slips anywhere else. Common practice, no source.
ELSEWHERE: Final[dict[str, str]] = {
    "missed": "Finish a line before you listen to the next; ask the reader to wait rather than skip one.",
    "doubled": "One line, one entry: look at the last entry before you press again.",
    "wrong": "Repeat each line under your breath before you press, and look at what was entered.",
}


def sheet_text(sheet: Sheet) -> str:
    """The sheet to print or to read aloud."""
    head = f"DRILL  {sheet.kind} · level {sheet.level} · sheet {sheet.seed}"
    directions = (
        "Nothing here is of a patient. Read aloud, at an even pace, without looking at the station; what is "
        "in brackets is done, not read."
    )
    if sheet.prompt_seconds is not None:
        directions += " Prompts come at the station by themselves; go on reading."
    lines = [head, "", *wrap(directions, WIDTH), ""]
    for number, line in enumerate(sheet.lines, 1):
        lines += wrap(line.says, WIDTH, initial_indent=f" {number:>2}  ", subsequent_indent=" " * 5)
        if number % TOGETHER == 0:
            lines.append("")
    end = "end: F10, then y, for the score"
    return "\n".join([*lines, f" {len(sheet.lines) + 1:>2}  {end}", ""])


def station_line(sheet: Sheet, leave: str) -> str:
    """What the station says at its top all the time; ``leave`` is the key that leaves it."""
    drill = f"DRILL {sheet.kind} {sheet.level}, sheet {sheet.seed}"
    return f"{drill}. Nothing here is of a patient. {leave} ends it."


def score_text(score: Score, sheet: Sheet) -> str:
    """The whole score, at most ``WIDTH`` columns wide."""
    of = f"{score.as_read} of {score.asked} entered as read"
    lines = [f"Drill {score.kind}, level {score.level}, sheet {score.seed}: {of}."]
    if score.left is not None:
        lines += wrap(
            f"Left after line {score.left} of {len(sheet.lines)}: unfinished. Only what came before is "
            "scored.",
            WIDTH,
        )
    lines.append("")
    for name, kinds in ROWS.items():
        lines.append(f"  {name:<9}{_share_words(score.share(*kinds))}")
        for each in score.slips:
            if each.kind in kinds:
                lines += wrap(slip_words(each), WIDTH, initial_indent="    ", subsequent_indent="      ")
    if score.set_right:
        lines.append(f"  {'set right':<9}{several(score.set_right, 'slip')} of your own; not counted above")
    lines += [f"  {'pace':<9}{pace_words(score)}", f"  {'prompts':<9}{prompt_words(score)}", ""]
    lines += wrap(f"Next time: {better(score, sheet)}", WIDTH)
    return "\n".join([*lines, "", *wrap(ASSUMES, WIDTH)])


def slip_words(slip: Slip) -> str:
    """One slip: where on the sheet, what was asked, what was entered, by which entry."""
    at, by = f"line {slip.line}", f" (entry {slip.entry})"
    asked = in_words(slip.asked) if slip.asked else ""
    got = in_words(slip.entered) if slip.entered else ""
    match slip.kind:
        case "missed":
            return f"{at}: {asked} was not entered"
        case "doubled":
            return f"{at}: {got} was entered once more{by}"
        case "added":
            return f"after {at}: {got} is not on the sheet{by}"
        case "not set right":
            return f"{at}: {got} was not set right{by}"
    fields = " and ".join("number" if each == "count" else each for each in slip.differs if each != "does")
    return f"{at}: {asked}; entered: {got}{f', wrong {fields}' if fields else ''}{by}"


def in_words(item: Item) -> str:
    """An item as a sheet says it."""
    match item.does:
        case "cut":
            return size_in_words(item.size)
        case "spoilt":
            return f"{size_in_words(item.size)} discarded ({item.reason})"
        case "discarded":
            whose = f"{lane_name(item.lane)}: " if item.lane else ""
            return f"{whose}{item.count} × {SIZE_NAMES[item.size]} discarded ({item.reason})"
        case "counted":
            second = ", second count" if item.by == 2 else ""
            return counted_in_words(item) + second
    return placed_in_words(item)


def pace_words(score: Score) -> str:
    """How long an entry takes."""
    if score.wait is None:
        return "not known from so few entries"
    each = "a group" if score.kind == "count" else "an entry"
    return f"{_time_words(score.wait)} {each} ({decimal(60 / score.wait.seconds)} a minute)"


def prompt_words(score: Score) -> str:
    """How long prompts waited for their answer, and how many had none."""
    if score.answer is None and not score.unanswered:
        return "none was due"
    said = []
    if score.answer is not None:
        said.append(f"{several(score.answer.of, 'answer')}, after {_time_words(score.answer)}")
    if score.unanswered:
        said.append(f"{score.unanswered} not answered")
    return "; ".join(said)


def _time_words(time: Typical) -> str:
    if time.range is None:
        return f"{decimal(time.seconds)} s"
    return f"{decimal(time.seconds)} s, range {decimal(time.range.low)}–{decimal(time.range.high)} s"


def _share_words(share: Proportion | None) -> str:
    if share is None:
        return "nothing was asked"
    said = f"{share.count} of {share.of}, {percent(share.share)}"
    if share.wilson is None:
        return said
    return f"{said}, range {percent(share.wilson.low)} to {percent(share.wilson.high)}"


def better(score: Score, sheet: Sheet) -> str:
    """What would help most, in one sentence: where most slips are, else prompts, else the level."""
    causes = [_cause(each, sheet.lines) for each in score.slips]
    if causes:
        return max(dict.fromkeys(causes), key=causes.count)
    if score.unanswered:
        return "Look at the foot of the screen between two lines: a prompt was due and was not answered."
    if score.answer is not None and score.answer.seconds > SLOW_ANSWER_SECONDS:
        return "Answer a prompt before the next line; while it waits, the grafts dry."
    if score.left is not None:
        return "Enter a sheet to its end: the last third is where slips come."
    if score.level < 3:
        return f"Nothing slipped: take level {score.level + 1}."
    return "Nothing slipped: have it read faster, with your eyes off the keys."


def _cause(slip: Slip, lines: Sequence[Line]) -> str:
    """What to do about a slip: by what is built in at its line, or a new reader near it, else by its kind."""

    def at(number: int) -> Fault | None:
        return lines[number - 1].fault if 0 < number <= len(lines) else None

    if (fault := at(slip.line)) is not None:
        return AT_A_FAULT[fault]
    read_again = (slip.line + 1, slip.line + 2) if slip.kind == "doubled" else ()
    if any(at(number) == "new reader" for number in (slip.line - 1, *read_again)):
        return AT_A_FAULT["new reader"]
    return next(ELSEWHERE[name] for name, kinds in ROWS.items() if slip.kind in kinds)
