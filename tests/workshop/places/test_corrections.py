"""What was entered wrongly is corrected with a reason: the journal keeps both values, and what rested on it moves."""

import json
from datetime import date
from typing import Any

import pytest
from sqlalchemy import select

from fleetbench.calc.core.wall_time import MarkedDate
from fleetbench.paper.core.document import letterhead
from fleetbench.records.core.database import Database
from fleetbench.records.core.errors import Refused
from fleetbench.records.core.journal import Journal
from fleetbench.records.upkeep.verify import verify
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.parts.lives import rebuild_lives
from fleetbench.workshop.people.list import list_people
from fleetbench.workshop.places.amend import correct, enter
from fleetbench.workshop.places.register import REGISTERS, history_of, link_choices, register_rows
from tests.conftest import Clock
from tests.workshop.small_folder import import_small

WHY = "typing error, the label was read again"


@pytest.fixture
def workplace(database: Database, clock: Clock) -> Workplace:
    """The small invented centre, with its manager signed in."""
    plain = Workplace(database, clock)
    import_small(plain)
    manager = next(each for each in list_people(plain) if each.role == "manager")
    return plain.as_person(manager.person_id)


def key_of(workplace: Workplace, sheet: str, **wanted: str) -> int:
    rows = register_rows(workplace, sheet)
    return next(row.key for row in rows if wanted.items() <= {**row.shown, "label": row.label}.items())


def now(workplace: Workplace, sheet: str, key: int, column: str) -> Any:
    return register_rows(workplace, sheet, key)[0].values[column]


CORRECTIONS: tuple[tuple[str, dict[str, str], dict[str, Any], tuple[str, ...]], ...] = (
    ("unit_types", {"code": "TYPE-B"}, {"loop_volume_l": 8.5}, ("Loop volume: 9.5 → 8.5.",)),
    ("part_type_lives", {"basis": "opened"}, {"amount": 1},
     ("Amount: 12 → 1.", "2 cells now end earlier.")),
    ("units", {"tag": "B-02"}, {"serial": "1020"}, ("Serial: 1002 → 1020.",)),
    ("parts", {"label": "C177"}, {"lot": "L-9"}, ("Lot: not recorded → L-9.",)),
    ("parts", {"label": "C277"}, {"made_on": MarkedDate.parse("2024-08")},
     ("Made: 2026-01 → 2024-08.", "1 cell now ends earlier.")),
    ("centre", {}, {"telephone": "+00 000 555 0100"}, ("Telephone: not recorded → +00 000 555 0100.",)),
    ("part_types", {"code": "CELL-A"}, {"price": 78.5}, ("Price: 10 → 78.5.",)),
    ("units", {"tag": "B-02"}, {"place": "Shelf A"}, ("Place: not recorded → Shelf A.",)),
    ("units", {"tag": "B-02"}, {"retired_on": "2026-05-01"}, ("Retired on: not recorded → 2026-05-01.",)),
    ("absences", {"why": "yearly service"}, {"back_at": "2026-05-02 16:00"},
     ("Came back: not recorded → 2026-05-02 16:00.",)),
    ("people", {"label": "T1"}, {"role": "instructor"}, ("Role: technician → instructor.",)),
)  # fmt: skip
"""The eleven facts that a newcomer could never correct, each with what is said of it."""


@pytest.mark.parametrize(("sheet", "which", "given", "said"), CORRECTIONS)
def test_each_fact_is_corrected_and_what_rests_on_it_is_told(
    workplace: Workplace, sheet: str, which: dict[str, str], given: dict[str, Any], said: tuple[str, ...]
) -> None:
    key = key_of(workplace, sheet, **which)
    if given.get("place"):
        given = {"place": dict(link_choices(workplace, sheet, ["place"])["place"])[given["place"]]}
    lines = correct(workplace, sheet, key, given, WHY)
    assert lines[: len(said)] == said
    assert rebuild_lives(workplace) == []  # every stored last valid day is what the records give
    assert verify(workplace.database).whole
    (_, who, what, why) = history_of(workplace, sheet, key)[0]
    assert (who, why) == ("M1", WHY)
    assert what == said[0].rstrip(".")


def test_the_journal_keeps_the_old_value_the_new_one_and_the_reason(workplace: Workplace) -> None:
    key = key_of(workplace, "units", tag="B-02")
    correct(workplace, "units", key, {"serial": "1020"}, WHY)
    with workplace.database.reading() as connection:
        query = select(Journal.act, Journal.subject, Journal.content).order_by(Journal.id.desc())
        entry = connection.execute(query).first()
    assert entry is not None and (entry.act, entry.subject) == ("correct master data", f"unit {key}")
    assert json.loads(entry.content) == {
        "rows": [["unit", key, {"serial": "1020", "version": 2}]],
        "why": {"reason": WHY, "changed": {"Serial": ["1002", "1020"]}},
    }


def test_a_unit_that_a_shorter_life_ends_is_told_as_held(workplace: Workplace) -> None:
    key = key_of(workplace, "part_type_lives", basis="opened")
    correct(workplace, "part_type_lives", key, {"amount": 24, "source": "manual, edition 3, page 8"}, WHY)
    lines = correct(workplace, "part_type_lives", key, {"amount": 1}, WHY)
    assert "2 cells now end earlier." in lines


def test_a_looser_limit_needs_a_source_and_is_told_as_looser(workplace: Workplace) -> None:
    key = key_of(workplace, "limits", name="cell air low")
    with pytest.raises(Refused, match=r"source: the limit gets looser, 8\.5 mV to 7 mV; name the document"):
        correct(workplace, "limits", key, {"amount": 7.0}, WHY)
    lines = correct(workplace, "limits", key, {"amount": 7.0, "source": "invented manual, edition 2, page 31"}, WHY)
    assert "The limit gets looser, 8.5 mV to 7 mV." in lines
    assert correct(workplace, "limits", key, {"amount": 9.0}, WHY)[0] == "Amount: 7 → 9."


def test_a_longer_life_needs_a_source_too(workplace: Workplace) -> None:
    key = key_of(workplace, "part_type_lives", basis="opened")
    with pytest.raises(Refused, match="source: the life gets longer, 12 months to 500 days"):
        correct(workplace, "part_type_lives", key, {"amount": 500, "unit": "days"}, WHY)
    assert correct(workplace, "part_type_lives", key, {"amount": 300, "unit": "days"}, WHY)


def test_a_new_life_moves_what_is_fitted_and_a_looser_one_is_told_to_have_no_effect(workplace: Workplace) -> None:
    cell = dict(link_choices(workplace, "part_type_lives", ["part_type"])["part_type"])["CELL-A"]
    given = {"part_type": cell, "basis": "opened", "amount": 6, "unit": "months", "source": "notice 4"}
    assert enter(workplace, "part_type_lives", given)[1] == ("2 cells now end earlier.",)
    later = enter(workplace, "part_type_lives", {**given, "amount": 36, "source": "a leaflet"})[1]
    assert "stays in force" in later[0]
    assert rebuild_lives(workplace) == []


@pytest.mark.parametrize(
    ("sheet", "which", "given", "fault"),
    [
        ("part_types", {"code": "CELL-A"}, {"kind": "O2 sensor"}, "kind: 'O2 sensor' is no kind of part"),
        ("part_types", {"code": "CELL-A"}, {"kind": "hose"}, "kind: 2 fitted parts of it sit in slots"),
        ("limits", {"name": "cell air low"}, {"name": "cell minimum"}, "name: 'cell minimum' is no limit"),
        ("units", {"tag": "B-02"}, {"tag": "B-01"}, "tag: B-01 is recorded already"),
        ("units", {"tag": "B-02"}, {"tag": ""}, "tag: is empty"),
        ("units", {"tag": "B-02"}, {"retired_on": "2020-01-01"}, "retired on: lies before"),
        ("parts", {"label": "C277"}, {"opened_on": MarkedDate.parse("2020-01")}, "opened: lies before made"),
        ("unit_types", {"code": "TYPE-B"}, {"loop_volume_l": 1000.0}, "loop volume: 1000 is out of"),
        ("people", {"label": "M1"}, {"role": "technician"}, "role: this is the last manager"),
        ("slots", {"name": "head"}, {"kind": "hose"}, "kind: 1 fitted in this slot"),
        ("units", {"tag": "B-02"}, {"serial": "1002"}, "nothing was changed"),
    ],
)  # fmt: skip
def test_what_cannot_be_is_refused_with_its_field_and_nothing_is_written(
    workplace: Workplace, sheet: str, which: dict[str, str], given: dict[str, Any], fault: str
) -> None:
    key = key_of(workplace, sheet, **which)
    before = register_rows(workplace, sheet, key)
    with pytest.raises(Refused, match=fault):
        correct(workplace, sheet, key, given, WHY)
    assert register_rows(workplace, sheet, key) == before


def test_a_reason_must_be_given_and_another_desk_is_never_overwritten(workplace: Workplace) -> None:
    key = key_of(workplace, "units", tag="B-02")
    seen = register_rows(workplace, "units", key)[0].values
    with pytest.raises(Refused, match="reason: is empty"):
        correct(workplace, "units", key, {"serial": "1020"}, " ")
    correct(workplace, "units", key, {"serial": "1020"}, WHY)
    with pytest.raises(Refused, match="unit: serial: 1020 by another desk, 1030 here"):
        correct(workplace, "units", key, {"serial": "1030"}, WHY, seen)


def test_who_may_correct_what(workplace: Workplace) -> None:
    technician = next(each for each in list_people(workplace) if each.role == "technician")
    at_the_bench = workplace.as_person(technician.person_id)
    assert correct(at_the_bench, "parts", key_of(workplace, "parts", label="C177"), {"lot": "L-9"}, WHY)
    with pytest.raises(Refused, match="is not for the role technician; ask a manager"):
        correct(at_the_bench, "units", key_of(workplace, "units", tag="B-02"), {"serial": "1"}, WHY)


def test_the_zone_of_the_centre_moves_days_that_rest_on_it(workplace: Workplace) -> None:
    correct(workplace, "centre", 1, {"timezone": "Pacific/Auckland"}, WHY)
    assert rebuild_lives(workplace) == []


def test_every_register_shows_its_rows_in_words(workplace: Workplace) -> None:
    for sheet in REGISTERS:
        for row in register_rows(workplace, sheet):
            assert row.label and "_" not in row.label.replace("C1_", "")
    (slot,) = (row for row in register_rows(workplace, "slots") if row.shown["name"] == "cell 1")
    assert (slot.label, slot.shown["assembly_type"]) == ("HEAD-B: cell 1", "HEAD-B")


def test_a_day_of_a_test_that_was_typed_wrongly_moves_the_part(workplace: Workplace) -> None:
    key = register_rows(workplace, "part_tests")[0].key
    lines = correct(workplace, "part_tests", key, {"done_on": MarkedDate(date(2024, 3, 1))}, WHY)
    assert lines[0] == "Done on: 2025-03 → 2024-03-01."
    assert rebuild_lives(workplace) == []


def test_address_and_currency_stand_on_papers_and_a_currency_is_a_code_of_three_letters(workplace: Workplace) -> None:
    with pytest.raises(Refused, match="currency: 'eur' is no code of a currency; write its three letters"):
        correct(workplace, "centre", 1, {"currency": "eur"}, WHY)
    correct(workplace, "centre", 1, {"address": "1 Quay Road, Laketown", "currency": "EUR"}, WHY)
    head = letterhead(workplace)
    assert (head.from_whom, head.currency) == ("Invented Lake, 1 Quay Road, Laketown", "EUR")
