"""The sample's file is taken from the cache only while nothing that its import hangs on has changed."""

from pathlib import Path

import pytest

from tests.centres.kept_sample import MOST_KEPT, OF_THIS_RUN, digest_of, kept_or_built


@pytest.fixture
def builds(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    monkeypatch.delenv("CI", raising=False)
    monkeypatch.delenv(OF_THIS_RUN, raising=False)
    return []


def wanted(builds: list[str], folder: Path, what: str = "as stated") -> str:
    """The file's text, which says how often it was built by then."""

    def build(path: Path) -> None:
        builds.append(what)
        path.write_text(f"{what}, {len(builds)}", encoding="utf-8")

    path = folder / "sample.db"
    path.unlink(missing_ok=True)
    kept_or_built(build, path, what, folder / "kept")
    return path.read_text(encoding="utf-8")


def test_it_is_built_once_for_the_same_day_and_again_for_another(builds: list[str], tmp_path: Path) -> None:
    assert [wanted(builds, tmp_path) for _ in range(2)] == ["as stated, 1"] * 2
    assert wanted(builds, tmp_path, "of another day") == "of another day, 2"
    assert wanted(builds, tmp_path) == "as stated, 1"


def test_where_ci_is_set_nothing_is_taken_or_kept(
    builds: list[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    wanted(builds, tmp_path)
    monkeypatch.setenv("CI", "true")
    assert wanted(builds, tmp_path) == "as stated, 2"
    assert len(list((tmp_path / "kept").iterdir())) == 1


def test_where_ci_is_set_its_stages_share_what_one_of_them_built(
    builds: list[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    wanted(builds, tmp_path)
    monkeypatch.setenv("CI", "true")
    monkeypatch.setenv(OF_THIS_RUN, str(tmp_path / "of this run"))
    assert [wanted(builds, tmp_path) for _ in range(2)] == ["as stated, 2"] * 2


def test_no_more_files_are_kept_than_a_few(builds: list[str], tmp_path: Path) -> None:
    for day in range(MOST_KEPT + 3):
        wanted(builds, tmp_path, f"of day {day}")
    assert len(list((tmp_path / "kept").iterdir())) == MOST_KEPT


def test_a_byte_of_a_source_or_sheet_or_the_name_of_a_file_makes_another_digest(tmp_path: Path) -> None:
    source, sheets = tmp_path / "program", tmp_path / "sheets"
    for folder in (source / "room", sheets):
        folder.mkdir(parents=True)
        (folder / "one").write_text("a", encoding="utf-8")

    def digest() -> str:
        return digest_of("as stated", (source,), sheets)

    seen = [digest()]
    (source / "room" / "one").write_text("b", encoding="utf-8")
    seen.append(digest())
    (sheets / "one").write_text("b", encoding="utf-8")
    seen.append(digest())
    (sheets / "one").rename(sheets / "two")
    seen.append(digest())
    (source / "more").write_text("", encoding="utf-8")
    seen.append(digest())
    assert len(set(seen)) == len(seen)
    assert digest() == seen[-1]
