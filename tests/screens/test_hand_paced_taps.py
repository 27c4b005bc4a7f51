"""Whatever was asked and answered before: every tap that a hand makes counts, at every role."""

from __future__ import annotations

import asyncio
from collections.abc import Iterable, Iterator
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from seats import CHARACTERS, harvested, seated
from stations import new_case
from textual import events

from orroom.case import events as e
from orroom.case.terms import Role

#: What somebody does: its keys, and the kind of entry and figures that must come of it. The figures are read
#: off the keys here, by hand.
Act = tuple[tuple[str, ...], str, dict[str, object]]


def cut(size: str) -> Act:
    return (size,), "grafts_cut", {"size": size, "count": 1}


def numbered(keys: str, kind: str, **figures: object) -> Act:
    names = {"+": "plus", ".": "full_stop", "\n": "enter"}
    return tuple(names.get(key, key) for key in keys), kind, figures


sizes = st.sampled_from("123")
counts = st.integers(1, 39)
reasons = st.integers(1, 5)

#: Questions that any role asks, each ended by another kind of step.
anywhere: st.SearchStrategy[Act] = st.one_of(
    sizes.map(lambda n: numbered(f"w3{n}\n", "team_changed", work="placing", people=int(n))),
    sizes.map(lambda text: numbered(f"nbed{text}\n", "note_added", text=f"bed{text}")),
    sizes.map(lambda n: numbered(f"w4{n}5\n10\n", "break_planned", minutes=10)),
)
at_cutting = st.one_of(
    sizes.map(cut),
    sizes.map(cut),
    st.tuples(reasons, sizes).map(
        lambda each: numbered(f"x{each[0]}{each[1]}", "grafts_discarded", size=each[1], count=1)
    ),
    st.tuples(counts, sizes).map(
        lambda each: numbered(f"+{each[0]}\n{each[1]}", "grafts_cut", size=each[1], count=each[0])
    ),
    st.just(numbered("d211", "grafts_divided", size="2", into=("1", "1"))),
    st.just(numbered("d31\n", "grafts_divided", size="3", into=("1",))),
    counts.map(lambda n: numbered(f"j121{n}\n", "dish_counted", size="2", found=n)),
    anywhere,
)
at_placing = st.one_of(
    st.tuples(counts, sizes).map(
        lambda each: numbered(f"{each[0]}.{each[1]}", "grafts_placed", size=each[1], count=each[0])
    ),
    st.tuples(counts, sizes).map(
        lambda each: numbered(f"{each[0]}.{each[1]}", "grafts_placed", size=each[1], count=each[0])
    ),
    counts.map(lambda n: numbered(f"{n}\n", "grafts_placed", count=n)),
    counts.map(lambda n: numbered(f"{n}o", "graft_reseated", count=n)),
    counts.map(lambda n: numbered(f"{n}t", "sites_made", count=n)),
    st.tuples(counts, reasons).map(
        lambda each: numbered(f"{each[0]}x{each[1]}", "grafts_discarded", count=each[0])
    ),
    anywhere,
)
at_overview = st.one_of(
    anywhere,
    sizes.map(lambda n: numbered(f"p1{n}\n", "prompt_paused")),
)
#: A hand's pace: never faster than 0.1 s, most often little slower.
gaps = st.one_of(st.floats(0.1, 0.12), st.floats(0.1, 0.5), st.floats(0.1, 3.0))


def told(event: e.AnyEvent, figures: Iterable[str]) -> dict[str, object]:
    return {name: getattr(event, name) for name in figures}


class Station:
    """One station for many examples: opening one for each would take longer than all its taps."""

    def __init__(self, role: Role, folder: Path) -> None:
        case = new_case(folder / "case.orroom")
        harvested(case)
        self._runner = asyncio.Runner()
        self._opened = seated(case, role)
        self.seat = self._runner.run(self._opened.__aenter__())

    def close(self) -> None:
        self._runner.run(self._opened.__aexit__(None, None, None))
        self._runner.close()

    def does(self, acts: list[Act], pace: list[float]) -> None:
        """Tap all acts, one after the other; each must be the entry that was meant."""
        before = self.seat.desk.state.seq
        self._runner.run(self._tapped([key for act in acts for key in act[0]], pace))
        entries = [each.event for each in self.seat.desk.state.log[before:]]
        assert [(each.kind, told(each, act[2])) for each, act in zip(entries, acts, strict=True)] == [
            (kind, figures) for _, kind, figures in acts
        ]
        assert self.seat.screen.glance.question is None

    async def _tapped(self, keys: list[str], pace: list[float]) -> None:
        seat = self.seat
        seat.at += 1
        for number, key in enumerate(keys):
            seat.at += pace[number % len(pace)]
            event = events.Key(key, CHARACTERS.get(key, key if len(key) == 1 else None))
            event.time = seat.at
            event.set_sender(seat.app)
            seat.app.post_message(event)
        taken = asyncio.Event()
        seat.app.call_later(seat.screen.call_later, taken.set)
        async with asyncio.timeout(60):
            await taken.wait()
            while seat.app.shared.keys or seat.desk.waiting:
                await asyncio.sleep(0.005)


@pytest.fixture(scope="module")
def cutting(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Station]:
    yield from opened("cutting", tmp_path_factory)


@pytest.fixture(scope="module")
def placing(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Station]:
    yield from opened("placing", tmp_path_factory)


@pytest.fixture(scope="module")
def overview(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Station]:
    yield from opened("overview", tmp_path_factory)


def opened(role: Role, folders: pytest.TempPathFactory) -> Iterator[Station]:
    found = Station(role, folders.mktemp(role))
    yield found
    found.close()


paces = st.lists(gaps, min_size=1, max_size=30)


@settings(max_examples=20, deadline=None)
@given(st.lists(at_cutting, min_size=1, max_size=10), paces)
def test_every_tap_counts_while_cutting(cutting: Station, acts: list[Act], pace: list[float]):
    cutting.does(acts, pace)


@settings(max_examples=20, deadline=None)
@given(st.lists(at_placing, min_size=1, max_size=10), paces)
def test_every_tap_counts_while_placing(placing: Station, acts: list[Act], pace: list[float]):
    placing.does(acts, pace)


@settings(max_examples=20, deadline=None)
@given(st.lists(at_overview, min_size=1, max_size=10), paces)
def test_every_tap_counts_at_the_overview(overview: Station, acts: list[Act], pace: list[float]):
    overview.does(acts, pace)


@pytest.mark.parametrize("apart", [0.1, 0.2, 0.3, 0.4])
def test_the_key_that_ended_a_question_is_a_tap_again_at_once(
    cutting: Station, placing: Station, apart: float
):
    cutting.does([numbered("x12", "grafts_discarded", size="2"), *[cut("2")] * 8], [apart])
    placings = [("5.2", "2", 5), ("25.3", "3", 25), ("3.3", "3", 3), ("12.2", "2", 12), ("20.3", "3", 20)]
    placing.does(
        [numbered(keys, "grafts_placed", size=size, count=count) for keys, size, count in placings], [apart]
    )


@pytest.mark.parametrize("apart", [0.06, 0.07])
def test_the_key_that_ended_an_entry_may_begin_the_next_however_soon(placing: Station, apart: float):
    entry = numbered("5.2", "grafts_placed", size="2", count=5)
    another = numbered("25.2", "grafts_placed", size="2", count=25)
    placing.does([entry, another], [0.3, 0.3, 0.3, apart])
