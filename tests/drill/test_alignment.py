"""The best alignment: textbook edit distances, what a metric is, and that its counts are the distance."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache

import pytest
from hypothesis import given
from hypothesis import strategies as st

from orroom.drill.alignment import aligned, reached

WORDS = st.text("abc", max_size=9)


def edits(asked: Sequence[object], entered: Sequence[object]) -> int:
    return sum(
        one is None or other is None or asked[one] != entered[other] for one, other in aligned(asked, entered)
    )


def by_definition(asked: str, entered: str) -> int:
    """The edit distance, as it is defined: the least of three ways to get rid of a last letter."""

    @cache
    def least(row: int, column: int) -> int:
        if not row or not column:
            return row + column
        both = least(row - 1, column - 1) + (asked[row - 1] != entered[column - 1])
        return min(both, least(row - 1, column) + 1, least(row, column - 1) + 1)

    return least(len(asked), len(entered))


@pytest.mark.parametrize(
    ("one", "other", "distance"),
    [
        # V. I. Levenshtein, Soviet Physics Doklady 1966;10:707; R. A. Wagner, M. J. Fischer, J ACM
        # 1974;21:168. These pairs are those of textbooks ever since (from memory).
        ("kitten", "sitting", 3),
        ("saturday", "sunday", 3),
        (
            "intention",
            "execution",
            5,
        ),  # Jurafsky, Martin, Speech and Language Processing, ch. 2 (from memory)
        ("", "abc", 3),
        ("abc", "abc", 0),
    ],
)
def test_distances_of_textbooks(one: str, other: str, distance: int):
    assert edits(one, other) == edits(other, one) == distance


@pytest.mark.parametrize(
    ("asked", "entered", "left_out", "added", "others"),
    [
        # The worked alignments of textbooks for these pairs (from memory); each is the only best one.
        ("kitten", "sitting", [], ["g"], ["ks", "ei"]),
        ("saturday", "sunday", ["a", "t"], [], ["rn"]),
    ],
)
def test_alignments_of_textbooks(
    asked: str, entered: str, left_out: list[str], added: list[str], others: list[str]
):
    pairs = aligned(asked, entered)
    assert [asked[a] for a, b in pairs if a is not None and b is None] == left_out
    assert [entered[b] for a, b in pairs if a is None and b is not None] == added
    both = [asked[a] + entered[b] for a, b in pairs if a is not None and b is not None]
    assert [each for each in both if each[0] != each[1]] == others


def test_the_alignment_of_intention_and_execution_agrees_in_as_much_as_the_textbooks():
    """``INTE*NTION`` over ``*EXECUTION``: five edits, five letters alike (Jurafsky, Martin; from memory)."""
    pairs = aligned("intention", "execution")
    assert edits("intention", "execution") == 5
    assert len(pairs) - 5 == 5


@given(WORDS, WORDS)
def test_its_counts_are_the_distance_by_definition(one: str, other: str):
    assert edits(one, other) == by_definition(one, other)


@given(WORDS, WORDS, WORDS)
def test_it_is_a_metric(one: str, other: str, third: str):
    assert (edits(one, other) == 0) == (one == other)
    assert edits(one, other) == edits(other, one)
    assert edits(one, third) <= edits(one, other) + edits(other, third)


@given(WORDS, WORDS)
def test_everything_is_in_it_once_and_in_order(one: str, other: str):
    pairs = aligned(one, other)
    assert [a for a, _ in pairs if a is not None] == list(range(len(one)))
    assert [b for _, b in pairs if b is not None] == list(range(len(other)))
    assert all(pair != (None, None) for pair in pairs)


def test_of_two_that_are_as_short_the_one_in_which_more_agrees():
    # b left out and d twice; or, with as few edits, c for b and d for c
    assert aligned("abcd", "acdd") == ((0, 0), (1, None), (2, 1), (3, 2), (None, 3))


def test_what_disagrees_least_is_put_together():
    def apart(one: int, other: int) -> int:
        return abs(one - other)

    assert aligned((1, 20), (21,), apart) == ((0, None), (1, 0))
    assert aligned((1, 20), (2,), apart) == ((0, 0), (1, None))


@given(WORDS, st.integers(0, 9))
def test_how_far_it_goes_where_the_rest_is_missing(word: str, length: int):
    until = min(length, len(word))
    assert reached(word, word[:until]) == until
    assert reached(word, word[:until] + "x") <= until + 1


def test_a_slip_does_not_make_the_rest_of_a_sheet_one_that_was_gone_through():
    assert reached("abcabcabcabc", "abbabc") == 6
    assert reached("abcdef", "abcdxx") == 6
