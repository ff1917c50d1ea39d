"""Whether a notice covers a part or a unit. Common practice, no published source."""

import pytest

from fleetbench.calc.notices.scope import Marks, Scope, covers_part, covers_unit, within


@pytest.mark.parametrize("serial", ["98", "100", "102", " 0099 "])
def test_a_span_of_numbers_is_compared_as_numbers_not_as_text(serial: str) -> None:
    assert within(serial, "98", "102")


@pytest.mark.parametrize("serial", ["97", "103", "1000", "A100"])
def test_what_lies_outside_the_span_is_not_covered(serial: str) -> None:
    assert not within(serial, "98", "102")


def test_letters_before_the_digits_must_agree() -> None:
    assert within("c-00112", "C-99", "C-113")
    assert not within("D-100", "C-99", "C-113")


def test_case_and_blanks_of_a_lot_do_not_count() -> None:
    assert covers_part(Scope("lot", "la41"), Marks(lot=" LA41 "))


@pytest.mark.parametrize("covers", ["lot", "serials", "firmware"])
def test_a_part_without_the_mark_is_not_named(covers: str) -> None:
    assert not covers_part(Scope(covers, "1", "99"), Marks(types=("1",)))


def test_a_part_type_is_named_by_code_or_name_and_never_covers_a_unit() -> None:
    scope = Scope("part type", "CELL-A")
    assert covers_part(scope, Marks(types=("CELL-A", "Cell, build A")))
    assert covers_part(Scope("part type", "cell, build a"), Marks(types=("CELL-A", "Cell, build A")))
    assert not covers_unit(scope, Marks(types=("CELL-A",)))


def test_a_units_own_serial_is_covered_by_a_span_of_serials() -> None:
    assert covers_unit(Scope("serials", "B2000", "B2010"), Marks(serial="B2009"))
