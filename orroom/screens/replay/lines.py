"""The replay: a screen as it was, and below it where in the record that is."""

from collections.abc import Callable
from typing import Final

from msgspec.structs import replace
from rich.cells import cell_len

from orroom.case.events import GraftsCut, GraftsPlaced
from orroom.case.final_count import all_counts, person_counts
from orroom.case.replay import Replay
from orroom.case.state import CaseState
from orroom.case.terms import Role
from orroom.figures.case_times import case_times
from orroom.figures.counts import USABLE
from orroom.figures.recount import recount
from orroom.figures.wording import clock_time_with_seconds, how_long, minutes_seconds
from orroom.screens.replay.keys import key_groups, key_rows
from orroom.screens.replay.player import Player
from orroom.screens.replay.strip import Strip, strip_lines
from orroom.screens.stations.views.compared import NONE, compared_lines
from orroom.screens.stations.views.cutting import cutting_lines
from orroom.screens.stations.views.frame import Glance, header_lines
from orroom.screens.stations.views.overview import overview_book, overview_lines
from orroom.screens.stations.views.placing import placing_lines
from orroom.screens.terminal.painting import Line, Span, Tone, line, padded, rule, wrapped
from orroom.screens.terminal.question_lines import question_lines

PAINTERS: Final[dict[Role, Callable[[CaseState, int, Glance], list[Line]]]] = {
    "cutting": cutting_lines,
    "placing": placing_lines,
    "overview": overview_lines,
}
#: What is painted in the colours of a screen that is used is not, where it is replayed.
PAST: Final[dict[Tone, Tone]] = {
    "mine": "strong",
    "owed": "dim",
    "done": "plain",
    "notice": "plain",
    "pressing": "strong",
}
#: From this height on there is room for the strip's curves and a third key line; for its row of prompts.
ROOM_FOR_CURVES, ROOM_FOR_PROMPTS = 20, 30
#: From this height on there is room for a second key line, and a line kept for the message.
ROOM_FOR_KEYS: Final = 12
#: Below this width only the keys that lead to all others have words.
ROOM_FOR_WORDS: Final = 60


def loading_lines(height: int) -> list[Line]:
    """What is there until the record is read."""
    return [line(Span(" REPLAY  reading the record …", "strong")), *[()] * (height - 1)]


def replay_lines(replay: Replay, strip: Strip, player: Player) -> list[Line]:
    """All lines, exactly ``player.height`` of them."""
    state = replay.state_at(player.at.seq)
    rows = player.height - 4
    below = _below(replay, strip, player, state)[-rows:]
    glance = Glance(
        role="overview" if player.view == "count" else player.view,
        who=player.who or "OR",
        keys=player.keys,
        foretold=player.foretold,
        replayed=True,
        past=not player.live,
        width=player.width,
        height=player.height - len(below) - 1,
    )
    above = line(Span(padded(_where(replay, player, _turn(state, player, glance)), player.width), "cursor"))
    return [above, *_screen(state, player, glance), *below]


def _turn(state: CaseState, player: Player, glance: Glance) -> str:
    """Which page of the overview, or zone of a small placing screen, of how many; "" if one is all."""
    if state.tally.plan is None:
        return ""
    if player.view == "overview":
        count = len(overview_book(state, player.at.at_ms, glance).pages)
        return f"  ↓ {player.turned % count + 1}/{count}" if count > 1 else ""
    if player.view == "placing" and player.height < ROOM_FOR_CURVES:
        _seat(state, glance)
        count = len(state.plan.zones)
        return f"  ↓ {(glance.zone + player.turned) % count + 1}/{count}" if count > 1 else ""
    return ""


def _screen(state: CaseState, player: Player, glance: Glance) -> list[Line]:
    """The screen as it was, without the colours of one that is used. Nothing on it can be clicked."""
    rows = glance.height
    if state.tally.plan is None:
        found: list[Line] = [line(Span(" before the case was opened", "dim"))]
    elif player.view == "count":
        found = _final_count(state, player, glance)
    else:
        _seat(state, glance)
        glance.page = player.turned
        if glance.role == "placing":
            glance.zone = (glance.zone + player.turned) % len(state.plan.zones)
        found = PAINTERS[player.view](state, player.at.at_ms, glance)
    tones = {} if player.live else PAST
    found = [
        tuple(replace(span, action="", tone=tones.get(span.tone, span.tone)) for span in each)
        for each in found
    ]
    return (found + [()] * rows)[:rows]


def _seat(state: CaseState, glance: Glance) -> None:
    """Where that person worked last: the record has no cursor, but what each of them entered."""
    plan = state.plan
    glance.harvest = next(iter(plan.harvest_by_key))
    for entry in reversed(state.log):
        if entry.stamp.who != glance.who:
            continue
        match entry.event:
            case GraftsCut(harvest=harvest) if glance.role == "cutting" and harvest in plan.harvest_by_key:
                glance.harvest = harvest
                return
            case GraftsPlaced(zone=zone, size=size) if glance.role == "placing":
                zones = [each.key for each in plan.zones]
                sizes = list(plan.size_by_key)
                if zone in zones and size in sizes:
                    glance.zone, glance.size = zones.index(zone), sizes.index(size)
                return


def _final_count(state: CaseState, player: Player, glance: Glance) -> list[Line]:
    """Both counts next to the tally as they were, or how far the count had come."""
    counts = person_counts(state)
    if len(counts) == 2:
        compared = recount(state, counts[0].found, counts[1].found)
        shown = compared_lines(state, player.at.at_ms, glance, compared, NONE, player.turned)
        glance.height += sum(_has_buttons(each) for each in shown)  # its keys do nothing here
        shown = compared_lines(state, player.at.at_ms, glance, compared, NONE, player.turned)
        return [each for each in shown if not _has_buttons(each)]
    times = case_times(state)
    made = [
        f"{each.stamp.who} counted at {clock_time_with_seconds(each.stamp.at_ms, times)}"
        + ("" if any(count.seq == each.seq for count in counts) else ": superseded")
        for each in all_counts(state)
    ]
    words = made or ["no count yet"]
    rows = [row for each in words for row in wrapped(each, glance.width - 2)]
    head = header_lines(state, player.at.at_ms, glance, "FINAL COUNT")
    room = glance.height - len(head) - 1
    return [*head, rule(glance.width), *(line(f" {row}") for row in rows[-room:])]


def _has_buttons(painted: Line) -> bool:
    return any(span.tone == "button" for span in painted)


def _below(replay: Replay, strip: Strip, player: Player, state: CaseState) -> list[Line]:
    """The strip, the message, and the keys or the question that is open."""
    width, height = player.width, player.height
    placed = state.tally.held("placed")
    usable = sum(map(state.tally.held, USABLE))  # as the overview's, and before a case has a plan
    rows = 5 if height >= ROOM_FOR_PROMPTS else 4 if height >= ROOM_FOR_CURVES else 1
    lines = strip_lines(strip, player.at, usable, placed, width, rows, case_times(replay.newest))
    if player.question is not None:
        return [*lines, *_message(player, 1), *question_lines(player.question, width, 4)]
    least = 1 if height >= ROOM_FOR_KEYS else 0
    groups = key_groups(player.playing, small=width < ROOM_FOR_WORDS)
    key_lines = 3 if rows > 1 else 2 if least else 1
    return [*lines, *_message(player, least), *key_rows(groups, width, key_lines)]


def _message(player: Player, least: int) -> list[Line]:
    """The message, in two lines at most; ``least`` lines also when there is none, so that nothing moves."""
    found: list[Line] = [
        line(Span(f" {row}", player.tone)) for row in wrapped(player.message, player.width - 2)[:2]
    ]
    return found + [()] * (least - len(found))


def _where(replay: Replay, player: Player, turn: str) -> str:
    """Time, entry, speed, whether it is live, ``turn``, in as many words as there is room for."""
    # before its first entry the state does not know the case's own time of day, the whole record does
    time = clock_time_with_seconds(player.at.at_ms, case_times(replay.newest))
    seq, all_entries, width = f"{player.at.seq:,}", f"{len(replay.entries):,}", player.width
    speed = f"{player.speed}×"
    run = "LIVE, as it is now" if player.live else f"▶ {speed}" if player.playing else f"‖ paused, {speed}"
    sign = "LIVE" if player.live else "▶" if player.playing else "‖"
    brief = sign if player.live else f"{sign} {speed}"
    run, brief, least = (f"{each}{_behind(player)}" for each in (run, brief, sign))
    more = f"{'  skips idle' if player.skips_idle else ''}{'  rings' if player.rings else ''}"
    view = f"{player.view} {player.who}".strip()
    since = f"{how_long(player.at.at_ms - replay.start_ms)} since start"
    then = f" REPLAY  {time}" if player.live else f" REPLAY  as it was at {time}"
    wordings = (
        f"{then}  {since}  {view}  entry {seq} of {all_entries}  {run}{more}{turn}",
        f"{then}  {since}  entry {seq} of {all_entries}  {brief}{more}{turn}",
        f"{then}  entry {seq} of {all_entries}  {run}{more}{turn}",
        f"{then}  entry {seq} of {all_entries}  {brief}{more}{turn}",
        f" REPLAY  {time}  entry {seq} of {all_entries}  {brief}{more}{turn}",
        f" REPLAY {time[:-3]} entry {seq} {brief}{turn}",
        f" REPLAY entry {seq} {brief}{turn}",  # the screen below shows the time too
        f" REPLAY entry {seq} {least}{turn}",
        f" REPLAY {least}{turn}",
    )
    return next((each for each in wordings if cell_len(each) <= width), f" REPLAY {least}")


def _behind(player: Player) -> str:
    if player.now_ms is None:
        return ""
    return f"  {minutes_seconds(max(0, player.now_ms - player.at.at_ms))} behind"
