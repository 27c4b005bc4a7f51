"""The replay's keys, which of them stand on the key line, and its help: what each key and number means."""

from typing import Final, Literal, NamedTuple

from orroom.case.landmarks import Landmark
from orroom.case.terms import ROLES, Role
from orroom.screens.terminal.asking import Question
from orroom.screens.terminal.pages import Block
from orroom.screens.terminal.painting import Line, Span, line, padded, width_of, wrapped
from orroom.screens.terminal.question_lines import asked_blocks
from orroom.words.screen_numbers import meanings_of

#: What can be replayed: each role's screen, and both final counts next to the tally.
View = Role | Literal["count"]
VIEWS: Final[tuple[View, ...]] = (*ROLES, "count")

#: What the steps are called on a button, in a sentence, and their mark on the strip.
LANDMARK_WORDS: Final[dict[Landmark, tuple[str, str, str]]] = {
    "prompt": ("prompt", "prompt due", "◷"),
    "mismatch": ("mismatch", "mismatch", "≠"),
    "zone": ("zone done", "finished zone", "●"),
    "plan": ("plan", "plan revision", "◆"),
    "note": ("note", "note", "✎"),
}
#: Which mark is shown where several fall into one column: the first of these.
MARKED_FIRST: Final[tuple[Landmark, ...]] = ("mismatch", "plan", "zone", "note", "prompt")


class ReplayKey(NamedTuple):
    """A key: plain name, how it is written, its word on the key line, the screen's ``action``, its help."""

    key: str
    shown: str
    word: str
    action: str
    help: str

    @property
    def both_ways(self) -> bool:
        """Whether a capital letter does the same backward."""
        return "{back}" in self.action


KEYS: Final[tuple[ReplayKey, ...]] = (
    ReplayKey("f1", "F1", "all keys", "", "this help; again for its next page"),
    ReplayKey("space", "Space", "play", "play", "play or pause"),
    ReplayKey("left", "←", "", "step(-1)", "one entry back"),
    ReplayKey("right", "→", "entry", "step(1)", "one entry forward"),
    ReplayKey("minus", "-", "", "speed(-1)", "slower, down to 1×"),
    ReplayKey("plus", "+", "speed", "speed(1)", "faster, up to 600×: an 8 h day in 48 s"),
    ReplayKey("tab", "Tab", "view", "view", "next role's screen, then the final count"),
    ReplayKey("w", "w", "person", "person", "next person's screen"),
    ReplayKey("g", "g", "time", "time", "go to a time (10:42) or a minute since the start (95)"),
    ReplayKey("slash", "/", "search", "search", "search the entries: words, initials, a size, a number"),
    ReplayKey("q", "q", "leave", "", "leave the replay (also Esc)"),
    ReplayKey("h", "h", "search hit", "hit({back})", "next hit of the search"),
    ReplayKey("p", "p", "prompt", "jump('prompt', {back})", "next care round due"),
    ReplayKey("m", "m", "mismatch", "jump('mismatch', {back})", "next mismatch"),
    ReplayKey("z", "z", "zone done", "jump('zone', {back})", "next zone with all its grafts placed"),
    ReplayKey("v", "v", "plan", "jump('plan', {back})", "next plan revision"),
    ReplayKey("n", "n", "note", "jump('note', {back})", "next note"),
    ReplayKey("i", "i", "skip idle", "skip_idle", "skip times in which nothing happens: on or off"),
    ReplayKey("b", "b", "bell", "ring", "ring for prompts while it plays: on or off"),
    ReplayKey("down", "↓", "page", "turn", "next page of what does not fit; at placing, next zone"),
    ReplayKey("home", "Home", "start", "to_start", "start of the record"),
    ReplayKey("end", "End", "end", "to_end", "end of the record; in a running case: live"),
    ReplayKey("pageup", "PgUp", "", "step(-50)", "50 entries back"),
    ReplayKey("pagedown", "PgDn", "50", "step(50)", "50 entries forward"),
)

#: What is on the replay's own lines, and what it means.
MEANINGS: Final[tuple[tuple[str, str], ...]] = (
    ("10:42:07", "the time shown, by the case's clock"),
    ("entry 5 of 9", "shown as it was after that entry"),
    ("▶ 60×, ‖", "playing, a minute a second; paused, and the speed it will play at"),
    ("LIVE", "shown as it is now; new entries follow"),
    ("4 min 10 s behind", "how far behind now, in a running case"),
    ("usable, placed", "grafts at the time shown; the curves go on to the end, without cancelled entries"),
    ("then, at 10:42", "what was due then: nothing that is to be done now"),
    ("↓ 1/3", "page of the overview, or zone on the placing screen; ↓ shows the next"),
    ("┃", "the time shown, on the strip; click the strip to go there"),
    *((mark, sentence) for _, sentence, mark in LANDMARK_WORDS.values()),
)


def key_groups(playing: bool, small: bool) -> list[Line]:
    """The keys as buttons, most needed first; on a ``small`` screen few of them have words."""
    groups: list[Line] = []
    held: list[Span] = []
    for each in KEYS:
        if each.both_ways:
            held.append(Span(f" {each.key.upper()} ◂", "button", f"press('{each.key.upper()}')"))
        word = "pause" if each.key == "space" and playing else each.word
        sign = next((f"{mark} " for word_of, _, mark in LANDMARK_WORDS.values() if word_of == word), "")
        wordless = not word or (small and each.key not in {"f1", "space"})
        text = f" {each.shown} " if wordless else f" {each.shown} {sign}{word} "
        held.append(Span(text, "button", f"press('{each.key}')"))
        if word:
            groups.append(tuple(held))
            held = []
    return groups


def key_rows(groups: list[Line], width: int, rows: int) -> list[Line]:
    """Groups of buttons in up to ``rows`` lines, each kept whole; the last are left out for want of room."""
    lines: list[Line] = [()]
    for group in groups:
        between = (Span(" "),) if lines[-1] else ()
        if lines[-1] and width_of((*lines[-1], *between, *group)) > width:
            if len(lines) == rows:
                break
            lines.append(())
            between = ()
        lines[-1] = (*lines[-1], *between, *group)
    return lines


def help_blocks(view: View, width: int, question: Question | None = None) -> list[Block]:
    """What is asked; every key; what the replay's numbers and those of its screen mean.

    A key is a button that does its work, but while something is asked: then only answers work.
    """
    blocks: list[Block] = [*asked_blocks(question, width)] if question is not None else []
    later: list[Line] = [(), line(Span(" Once it is answered:", "strong"))] if question is not None else []
    for each in KEYS:
        names = _button(each.shown.rjust(5), each.key, question)
        back = _button(each.key.upper(), each.key.upper(), question)
        text = f"{each.help}; {each.key.upper()}: previous" if each.both_ways else each.help
        rows = wrapped(text, max(10, width - 14))
        head = line(names, " ", back if each.both_ways else "   ", f"  {rows[0]}")
        blocks.append([*later, head, *(line(" " * 13 + row) for row in rows[1:])])
        later = []
    shown = [(each.shown, each.means) for role in ROLES if role == view for each in meanings_of(role)]
    for title, numbers in (("What the replay's numbers and marks mean", MEANINGS), ("On this screen", shown)):
        if numbers:
            blocks += [[()], [line(Span(f" {title}", "strong"))]]
        for name, means in numbers:
            rows = wrapped(means, max(10, width - 16))
            head = line(Span(f" {padded(name, 13)}", "mine"), f" {rows[0]}")
            blocks.append([head, *(line(" " * 15 + row) for row in rows[1:])])
    return blocks


def _button(shown: str, key: str, question: Question | None) -> Span:
    """A key, as a button while nothing is asked."""
    return Span(f" {shown} ", "dim") if question else Span(f" {shown} ", "button", f"press('{key}')")
