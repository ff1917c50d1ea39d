"""What a column means is guessed from its name and from what stands in it; common practice, no published source."""

import pytest

from fleetbench.calc.import_export.columns import (
    FIELDS,
    Meaning,
    Says,
    Subject,
    field_of,
    guess_columns,
    guess_subject,
    label_of,
    split_unit,
)

SHEETS: dict[Subject, dict[str, tuple[str, ...]]] = {
    Subject.UNITS: {
        "Unit no.": ("R1", "R2"), "Model": ("Mk 2", "Mk 2"), "S/N": ("1001", "?"), "Bought": ("2024", "14.03.2024"),
        "Cell 1": ("c11", "c21"), "Cell 1 date": ("Mar 25", "04/2025"), "O2 tank hydro": ("11/2023", "-"),
    },
    Subject.PARTS: {
        "Sensor": ("A123", "A124"), "Batch": ("L1", "L1"), "Mfg date": ("03/2025", "03/2025"), "Rebreather": ("R1", ""),
        "Position": ("1", "2"),
    },
    Subject.CYLINDERS: {
        "Cylinder": ("T1", "T2"), "Gas": ("O2", "Dil"), "Volume (L)": ("3", "3"), "WP [psi]": ("3000", "3000"),
        "Last test": ("2023-05", "2024-06"),
    },
    Subject.PEOPLE: {"Name": ("Mara Example", "Tom Example"), "Phone": ("+30 1", "+30 2"), "Role": ("renter", "")},
    Subject.BOOKINGS: {
        "Customer": ("Mara Example", "Tom Example"), "From": ("2026-06-01", "2026-06-08"),
        "To": ("2026-06-03", "2026-06-10"), "Units": ("1", "2"),
    },
}  # fmt: skip
WANTED: dict[Subject, tuple[Meaning, ...]] = {
    Subject.UNITS: (
        Meaning("tag"), Meaning("unit_type"), Meaning("serial"), Meaning("in_service_on"),
        Meaning("part_serial", "cell 1"), Meaning("made_on", "cell 1"), Meaning("hydrostatic", "oxygen cylinder"),
    ),
    Subject.PARTS: (
        Meaning("part_serial"), Meaning("part_lot"), Meaning("made_on"), Meaning("unit"), Meaning("slot"),
    ),
    Subject.CYLINDERS: (
        Meaning("part_serial"), Meaning("role"), Meaning("size_l"), Meaning("working_bar"), Meaning("hydrostatic"),
    ),
    Subject.PEOPLE: (Meaning("name"), Meaning("contact"), Meaning("role")),
    Subject.BOOKINGS: (Meaning("renter"), Meaning("starts_on"), Meaning("ends_on"), Meaning("units_wanted")),
}  # fmt: skip


@pytest.mark.parametrize("subject", SHEETS)
def test_the_subject_and_every_column_of_a_usual_list_are_guessed(subject: Subject) -> None:
    names, samples = tuple(SHEETS[subject]), list(SHEETS[subject].values())
    assert guess_subject(names, samples) is subject
    assert tuple(each.meaning for each in guess_columns(subject, names, samples)) == WANTED[subject]


@pytest.mark.parametrize("subject", SHEETS)
def test_the_order_of_the_columns_changes_no_guess(subject: Subject) -> None:
    names, samples = list(SHEETS[subject])[::-1], list(SHEETS[subject].values())[::-1]
    assert tuple(each.meaning for each in guess_columns(subject, names, samples))[::-1] == WANTED[subject]


def test_no_meaning_is_given_twice_and_a_strange_column_is_not_used() -> None:
    guesses = guess_columns(Subject.UNITS, ("Unit", "Unit", "Favourite colour"), (("R1",), ("R1",), ("red",)))
    assert [each.meaning for each in guesses] == [Meaning("tag"), Meaning(), Meaning()]


def test_what_stands_in_a_column_outweighs_its_name() -> None:
    dates = ("14.03.2024", "15.03.2024", "16.03.2024")
    named = guess_columns(Subject.UNITS, ("Unit", "Serial"), (("R1", "R2", "R3"), dates))
    assert named[1].meaning.field != "serial"


def test_units_of_measure_are_taken_off_a_name() -> None:
    assert split_unit("Working pressure (psi)") == ("working pressure", "psi")
    assert split_unit("Volume, L") == ("volume", "l")
    assert split_unit("Größe [mbar]") == ("grosse", "mbar")


def test_every_field_has_a_label_and_a_kind() -> None:
    for subject, fields in FIELDS.items():
        for each in fields:
            assert field_of(subject, each.name) is not None or each.in_slot
            assert label_of(subject, Meaning(each.name, "cell 1" if each.in_slot else ""))
            assert each.says in Says
