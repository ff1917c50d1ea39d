"""Whether a notice covers a part or a unit. Common practice, no published source."""

import pytest

from fleetbench.calc.notices.scope import Covered, Marks, covers_part, covers_unit, doubt, within


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
    assert covers_part(Covered("lot", "la41"), Marks(lot=" LA41 "))


@pytest.mark.parametrize("covers", ["lot", "serials", "firmware"])
def test_a_part_without_the_mark_is_not_named(covers: str) -> None:
    assert not covers_part(Covered(covers, "1", "99"), Marks(types=("1",)))


def test_a_part_type_is_named_by_code_or_name_and_never_covers_a_unit() -> None:
    scope = Covered("part type", "CELL-A")
    assert covers_part(scope, Marks(types=("CELL-A", "Cell, build A")))
    assert covers_part(Covered("part type", "cell, build a"), Marks(types=("CELL-A", "Cell, build A")))
    assert not covers_unit(scope, Marks(types=("CELL-A",)))


def test_a_units_own_serial_is_covered_by_a_span_of_serials() -> None:
    assert covers_unit(Covered("serials", "B2000", "B2010"), Marks(serial="B2009"))


@pytest.mark.parametrize(
    ("covers", "kind"), [("serials", "cell"), ("serials", "oxygen cylinder"), ("firmware", "handset")]
)
def test_what_bears_the_mark_and_has_none_recorded_cannot_be_excluded(covers: str, kind: str) -> None:
    scope, unknown = Covered(covers, "1", "99"), Marks(kind=kind)
    assert covers_part(scope, unknown)
    assert doubt(scope, unknown).endswith("not recorded, so it cannot be excluded")
    known = Marks(serial="7", firmware="7", kind=kind)
    assert covers_part(scope, known) and doubt(scope, known) == ""
    assert not covers_part(scope, Marks(serial="700", firmware="700", kind=kind))


def test_a_hose_never_had_a_serial_and_a_unit_without_one_cannot_be_excluded() -> None:
    scope = Covered("serials", "1", "99")
    assert not covers_part(scope, Marks(kind="hose"))
    assert covers_unit(scope, Marks(kind="unit")) and not covers_unit(scope, Marks(serial="100", kind="unit"))
