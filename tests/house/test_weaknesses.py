"""Advisories of the OSV schema (ossf.github.io/osv-schema, "Evaluation") held against locked versions.

The advisories are invented; their form and the rule of events are the schema's.
"""

import json
import sys
import zipfile
from pathlib import Path

import pytest

from tests.house.weaknesses import KNOWN, NO_DATA, NONE_KNOWN, main, weaknesses

LOCKED = {"some-pages": ["4.2.0"], "other": ["1.0"]}


def advisory(folder: Path, *events: dict[str, str], name: str = "Some.Pages", **more: object) -> Path:
    package = {"ecosystem": "PyPI", "name": name}
    said = {"id": "TEST-1", "modified": "2026-05-04T07:30:00Z", "summary": "opens any file"}
    affected = [{"package": package, "ranges": [{"type": "ECOSYSTEM", "events": list(events)}], **more}]
    folder.mkdir(exist_ok=True)
    (folder / "TEST-1.json").write_text(json.dumps({**said, "affected": affected}))
    return folder


@pytest.mark.parametrize(
    ("events", "is_known"),
    [
        ([{"introduced": "0"}], True),
        ([{"introduced": "0"}, {"fixed": "4.2.0"}], False),
        ([{"introduced": "0"}, {"fixed": "4.2.1"}], True),
        ([{"introduced": "4.2.1"}], False),
        ([{"introduced": "0"}, {"last_affected": "4.2.0"}], True),
        ([{"introduced": "0"}, {"fixed": "3.9"}, {"introduced": "4.0"}, {"fixed": "4.10"}], True),
        ([{"introduced": "0"}, {"fixed": "4.0"}, {"introduced": "5.0"}], False),
    ],
)
def test_a_locked_version_is_known_as_weak_within_a_range_of_events(
    events: list[dict[str, str]], is_known: bool, tmp_path: Path
) -> None:
    found, read, newest = weaknesses(advisory(tmp_path / "data", *events), LOCKED)
    assert (found, read, newest) == (["some-pages 4.2.0: TEST-1 opens any file"] * is_known, 1, "2026-05-04")


def test_the_check_fails_on_a_known_weakness_and_says_when_it_had_no_data(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def told(*words: object) -> int:
        monkeypatch.setattr(sys, "argv", ["weaknesses", *map(str, words)])
        return main()

    assert told() == told("") == told(tmp_path / "none") == NO_DATA
    assert capsys.readouterr().out.count("NOT CHECKED") == 3
    assert told(advisory(tmp_path / "data", {"introduced": "0"}, name="nothing-of-ours")) == NONE_KNOWN
    folder = advisory(tmp_path / "data", {"introduced": "0"}, name="ReportLab")
    with zipfile.ZipFile(tmp_path / "all.zip", "w") as archive:
        archive.write(folder / "TEST-1.json", "TEST-1.json")
    assert told(folder) == told(tmp_path / "all.zip") == KNOWN
    assert "reportlab" in capsys.readouterr().out
