"""Texts that no catalogue reaches, counted a floor: the counts may only fall."""

import re
from collections import Counter
from pathlib import Path

import pytest
from sqlalchemy import CheckConstraint, Column, MetaData, Table, create_engine, select

from fleetbench.calc.core.languages import language, reading, say, shown
from fleetbench.records.core.schema import OwnWord
from fleetbench.records.upkeep.tables import metadata
from tests.house.sentences import RIGHTLY, Read, program_sentences, read_source, renter_sentences

_ONE_OF = re.compile(r"(?P<column>\w+) IS NULL OR \w+ IN \((?P<words>.*)\)$")

MOST = {"calc": (0, 0), "records": (0, 0), "workshop": (0, 0), "paper": (0, 0), "top": (0, 0), "window": (0, 0)}
"""By floor: the most texts that are not translatable, and that are glued."""


@pytest.fixture(scope="module")
def source() -> dict[str, Read]:
    return read_source()


def test_no_floor_gets_texts_that_cannot_be_translated_or_are_glued(source: dict[str, Read]) -> None:
    bare, glued = Counter[str](), Counter[str]()
    for name, read in source.items():
        floor = name.partition("/")[0] if "/" in name else "top"
        bare[floor] += len(read.bare)
        glued[floor] += len(read.glued)
    over = {
        floor: (bare[floor], glued[floor])
        for floor in bare
        if bare[floor] > MOST[floor][0] or glued[floor] > MOST[floor][1]
    }
    assert over == {}, "python -m tests.house.sentences --list FLOOR names them"


def test_what_rightly_stays_english_is_still_there(source: dict[str, Read]) -> None:
    gone = {
        name: lost
        for name, by_reason in RIGHTLY.items()
        if (lost := {each for listed in by_reason.values() for each in listed} - source[name].kept)
    }
    assert gone == {}


_DATED = "how exactly a date is known, which the form of the date tells"
_SIGN = "a sign of a unit"
PLAIN = {
    "centre": {
        "measures": "chosen by words of its own",
        **dict.fromkeys(("pressure_unit", "mass_unit", "length_unit", "temperature_unit"), _SIGN),
    },
    "booking": {"language": "a code of ISO 639-1"},
    "part": dict.fromkeys(("made_precision", "opened_precision", "fixed_precision"), _DATED),
    "part_test": {"precision": _DATED},
    "unit": {"in_service_precision": _DATED},
    "bench_session": {"pressure_source": "told by where the pressure stands"},
    "calibration": {"pressure_source": "told by where the pressure stands"},
    "calibration_outcome": dict.fromkeys(("verdict", "reason"), "of each cell at each calibration: an enumeration"),
    "calibration_reading": {"point": "of each reading: read as an enumeration"},
    "log_reading": {"quantity": "told by the columns of the log"},
    "reader_cell": {"shows": "a sign of a unit, or that it shows nothing"},
    "turn_round_line": {"step": "told by the words of the card"},
}
"""Columns that hold one of several words and are read plain, each with the reason."""
NO_WORDS = ("piece", "kg")


def test_a_word_of_a_set_that_the_records_hold_is_said_when_it_is_read_and_stands_in_the_catalogues() -> None:
    """Else it stands in English on every page that shows the record."""
    said = {
        word
        for each in program_sentences() | renter_sentences()
        for word in ((each,) if isinstance(each, str) else each)
    }
    plain, untold, met = [], [], set()
    for table in metadata.sorted_tables:
        for check in table.constraints:
            found = _ONE_OF.match(str(check.sqltext)) if isinstance(check, CheckConstraint) else None
            if found is None:
                continue
            column = found["column"]
            if column in PLAIN.get(table.name, {}):
                met.add((table.name, column))
                continue
            if not isinstance(table.c[column].type, OwnWord):
                plain.append(f"{table.name}.{column}")
            untold += [
                f"{table.name}.{column}: {word}"
                for word in re.findall("'([^']*)'", found["words"])
                if word not in said and word not in NO_WORDS
            ]
    assert (plain, untold) == ([], [])
    assert met == {(table, column) for table, columns in PLAIN.items() for column in columns}


def test_the_words_of_records_are_read_in_german_and_compared_in_english(tmp_path: Path) -> None:
    """Kept as they always were: the row holds plain text."""
    engine = create_engine(f"sqlite:///{tmp_path / 'words.sqlite'}")
    words = Table("words", MetaData(), Column("kind", OwnWord(40)))
    words.create(engine)
    with engine.begin() as connection:
        connection.execute(words.insert(), [{"kind": say("opening pressure")}])
        kept = connection.exec_driver_sql("SELECT kind, typeof(kind) FROM words").one()
        (kind,) = connection.execute(select(words.c.kind).where(words.c.kind == "opening pressure")).one()
    engine.dispose()
    assert tuple(kept) == ("opening pressure", "text") and kind == "opening pressure"
    with reading(language("de")):
        assert shown(kind) == "Öffnungsdruck"
