"""Half-done work is there after a crash, whole or not at all, and nobody else can read it."""

import stat
import sys
from datetime import UTC, datetime
from pathlib import Path

import pytest

from fleetbench.records.core.errors import Refused
from fleetbench.workshop.core.drafts import Drafts

AT = datetime(2026, 5, 4, 9, 0, tzinfo=UTC)


def test_a_draft_comes_back_as_it_was_saved(tmp_path: Path) -> None:
    drafts = Drafts(tmp_path / "drafts")
    drafts.save("LK-01", {"figures": [1.5, None, "å"]}, AT)
    found = Drafts(tmp_path / "drafts").load("LK-01")
    assert found is not None
    assert (found.tag, found.saved_at, found.content) == ("LK-01", AT, {"figures": [1.5, None, "å"]})


def test_the_newest_is_listed_first_and_a_dropped_one_is_gone(tmp_path: Path) -> None:
    drafts = Drafts(tmp_path)
    drafts.save("A", {}, AT)
    drafts.save("B", {}, AT.replace(hour=10))
    assert [draft.tag for draft in drafts.listed()] == ["B", "A"]
    drafts.drop("B")
    drafts.drop("B")
    assert [draft.tag for draft in drafts.listed()] == ["A"]


@pytest.mark.parametrize("tag", ["../../etc/passwd", "a/b", "ü 1", "x" * 300, "", "A"])
def test_no_tag_reaches_outside_the_folder_or_meets_another(tmp_path: Path, tag: str) -> None:
    drafts = Drafts(tmp_path / "drafts")
    drafts.save("other", {"of": "other"}, AT)
    drafts.save(tag, {"of": tag}, AT)
    assert [path.parent for path in tmp_path.rglob("*.json")] == [tmp_path / "drafts"] * 2
    found = drafts.load(tag)
    assert found is not None and found.content == {"of": tag}


@pytest.mark.parametrize("torn", [b"", b"{", b"[]", b'{"form": 2}', b"\xff\xfe", b'{"form":1,"tag":"A"}'])
def test_a_torn_file_is_no_draft_and_no_crash(tmp_path: Path, torn: bytes) -> None:
    drafts = Drafts(tmp_path)
    drafts.save("A", {"n": 1}, AT)
    next(tmp_path.glob("*.json")).write_bytes(torn)
    assert drafts.load("A") is None
    assert drafts.listed() == ()


def test_a_write_that_fails_leaves_the_earlier_draft(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    drafts = Drafts(tmp_path)
    drafts.save("A", {"n": 1}, AT)

    def full(_handle: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("fleetbench.workshop.core.drafts.os.fsync", full)
    with pytest.raises(Refused, match=r"^draft: cannot be kept"):
        drafts.save("A", {"n": 2}, AT)
    found = drafts.load("A")
    assert found is not None and found.content == {"n": 1}


@pytest.mark.skipif(sys.platform == "win32", reason="file modes are of POSIX systems")
def test_only_the_owner_may_read_a_draft(tmp_path: Path) -> None:
    Drafts(tmp_path).save("A", {}, AT)
    assert stat.S_IMODE(next(tmp_path.glob("*.json")).stat().st_mode) == 0o600
