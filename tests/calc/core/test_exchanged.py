"""Figures typed for another cell, another handset or a line too low: named from the last readings, and only then.

All readings are invented; that typed exchanges show against history is common practice, no published source.
"""

import random

import pytest

from fleetbench.calc.core.exchanged import exchanged_columns, exchanged_pairs, exchanged_words, line_out, misplaced

CELLS, HANDSETS = ("cell 1", "cell 2", "cell 3"), ("handset 1", "handset 2")


def head(rng: random.Random) -> dict[tuple[str, str], float]:
    """Three cells of quite different output on two handsets that differ by 1.5 %."""
    outputs = dict(zip(CELLS, rng.sample([9.2, 9.9, 10.6, 11.3], 3), strict=True))
    gains = {"handset 1": 1.0, "handset 2": 1.015}
    return {(cell, each): outputs[cell] * gains[each] for each in HANDSETS for cell in CELLS}


def later(rng: random.Random, last: dict[tuple[str, str], float]) -> dict[tuple[str, str], float]:
    """The same head at its next visit: aged by up to 1 % a cell, at another pressure, shown to a tenth of a percent."""
    aged = {cell: rng.uniform(0.99, 1.0) for cell in CELLS}
    room = rng.uniform(0.97, 1.03)
    return {(cell, each): round(mv * aged[cell] * room, 2) for (cell, each), mv in last.items()}


def swapped(
    given: dict[tuple[str, str], float], one: tuple[str, str], other: tuple[str, str]
) -> dict[tuple[str, str], float]:
    return {**given, one: given[other], other: given[one]}


def test_two_cells_of_one_handset_typed_for_each_other_are_named() -> None:
    last = {"cell 1": 9.2, "cell 2": 10.6, "cell 3": 11.3}
    assert exchanged_pairs({"cell 1": 10.5, "cell 2": 9.1, "cell 3": 11.2}, last) == (("cell 1", "cell 2"),)
    assert exchanged_pairs({"cell 1": 9.1, "cell 2": 10.5, "cell 3": 11.2}, last) == ()


def test_another_pressure_exchanges_nothing() -> None:
    last = {"cell 1": 9.2, "cell 2": 9.9, "cell 3": 10.6}
    assert exchanged_pairs({cell: mv * 0.93 for cell, mv in last.items()}, last) == ()


def test_cells_that_read_nearly_alike_cannot_be_told_apart() -> None:
    last = {"cell 1": 10.0, "cell 2": 10.1, "cell 3": 10.2}
    assert exchanged_pairs({"cell 1": 10.1, "cell 2": 10.0, "cell 3": 10.2}, last) == ()


@pytest.mark.parametrize("unknown", [{}, {"cell 1": 9.2}, {"cell 1": 0.0, "cell 2": -1.0}])
def test_without_history_nothing_is_named(unknown: dict[str, float]) -> None:
    assert exchanged_pairs({"cell 1": 10.6, "cell 2": 9.2}, unknown) == ()


def test_a_column_that_began_a_line_too_low_is_named() -> None:
    order = ("cell 1", "cell 2", "cell 3", "cell 4")
    last = {"cell 1": 9.2, "cell 2": 9.9, "cell 3": 10.6, "cell 4": 11.4}
    typed = {"cell 1": 9.8, "cell 2": 10.5, "cell 3": 11.3, "cell 4": 11.3}
    assert line_out(order, typed, last) == ("cell 1", "cell 2", "cell 3")
    assert line_out(order, last, last) == ()


def test_two_handsets_typed_for_each_other_are_named_by_their_quotient() -> None:
    last = head(random.Random(4))
    now = later(random.Random(5), last)
    crossed = {(cell, each): now[cell, HANDSETS[1 - HANDSETS.index(each)]] for cell, each in now}
    assert exchanged_columns(crossed, last) == (("handset 1", "handset 2"),)
    assert exchanged_columns(now, last) == ()


def test_the_sentence_names_both_with_their_figures() -> None:
    last = {("KX-1", ""): 32.0, ("KX-2", ""): 50.0}
    assert misplaced({("KX-1", ""): 50.1, ("KX-2", ""): 32.1}, last, "%") == (
        "KX-1 and KX-2 look exchanged: 50.1 and 32.1 %, last 32 and 50 %.",
    )


def test_single_figures_are_held_against_what_is_known_of_each() -> None:
    asked = {"KX-1": 32.0, "KX-2": 50.0, "KX-3": 21.0}
    assert exchanged_words({"KX-1": 49.7, "KX-2": 32.2, "KX-3": 20.9}, asked, "%", held="asked") == (
        "KX-1 and KX-2 look exchanged: 49.7 and 32.2 %, asked 32 and 50 %."
    )
    assert exchanged_words({"KX-1": 32.2, "KX-2": 49.7, "KX-3": 20.9}, asked, "%") == ""


def test_of_five_hundred_heads_exchanges_are_found_and_sound_entries_are_left_alone() -> None:
    rng = random.Random(20_261_129)
    found = false = 0
    for _ in range(500):
        last = head(rng)
        now = later(rng, last)
        false += bool(misplaced(now, last, "mV"))
        one, other = rng.sample(CELLS, 2)
        each = rng.choice(HANDSETS)
        found += bool(misplaced(swapped(now, (one, each), (other, each)), last, "mV"))
    assert (found, false) == (500, 0)
