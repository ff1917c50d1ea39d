"""A change of code alone records the sample's season as before, column by column."""

from pathlib import Path

from tests.house.sample_journal import KEPT, lines_of


def test_the_sample_season_is_recorded_as_before(sample_file: Path) -> None:
    assert lines_of(sample_file) == KEPT.read_text(encoding="utf-8").splitlines(), (
        "where this is meant, renew it with: python -m tests.house.sample_journal --write"
    )
