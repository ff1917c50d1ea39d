"""The words that a column allows are those that the database itself allows, enumerations in their order included."""

from sqlalchemy import CheckConstraint, String, inspect, literal, select

from fleetbench.calc.parts.kinds import PartState
from fleetbench.records.core.database import Database
from fleetbench.records.upkeep.tables import metadata


def test_the_words_of_every_column_are_those_of_the_migrated_database(sqlite_database: Database) -> None:
    seen = inspect(sqlite_database.engine)
    checked = 0
    for table in metadata.sorted_tables:
        kept = {str(each["name"]): each["sqltext"] for each in seen.get_check_constraints(table.name)}
        for each in table.constraints:
            if isinstance(each, CheckConstraint) and str(each.name).endswith("_word"):
                assert kept[f"{each.name}"] == str(each.sqltext), each.name
                checked += 1
    assert checked > 50


def test_a_member_of_an_enumeration_is_sent_as_its_word(database: Database) -> None:
    """Both drivers, since a member is text to Python but of a class of its own to a driver."""
    with database.engine.connect() as connection:
        assert connection.scalar(select(literal(PartState.SENT_BACK, String()))) == "sent back"
