"""Settings that are kept are used: the look at once, the folder of backups by the button and by the reminder."""

import re
import tomllib
from collections.abc import Iterator
from datetime import date
from functools import partial
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QLabel

from fleetbench import __version__
from fleetbench.records.core.database import Database
from fleetbench.records.upkeep.migrate import open_database
from fleetbench.records.upkeep.verify import verify
from fleetbench.settings import CHOICES, SETTINGS, Settings, backup_reminder, data_folder, read_settings, write_settings
from fleetbench.window.look.theme import Theme
from fleetbench.window.places import settings
from fleetbench.window.shell.app import Desk
from fleetbench.window.shell.background import Background
from fleetbench.window.shell.opening import open_records
from fleetbench.window.shell.pages import PageContext
from fleetbench.window.shell.place import PageKey
from fleetbench.workshop.core.workplace import Workplace, read_centre, wall_clock
from fleetbench.workshop.places.amend import correct
from tests.centres.bench_centre import write_centre
from tests.conftest import Clock

LEFT = Qt.MouseButton.LeftButton


class Room:
    """The page over a small centre, with a folder of data of its own."""

    def __init__(self, qtbot: Any, theme: Theme, background: Background, database: Database, clock: Clock) -> None:
        self.qtbot, self.background, self.database, self.clock = qtbot, background, database, clock
        self.keys = write_centre(database, clock())
        workplace = background.signed_in.at(Workplace(database, clock, attended=True))
        self.page = settings.list_page(PageContext(theme, background, workplace, ZoneInfo("Europe/Berlin")))
        qtbot.addWidget(self.page)
        self.page.show()
        self.page.refresh()
        self.settle()

    def settle(self) -> None:
        self.qtbot.waitUntil(lambda: self.page.is_loaded and not self.background.is_busy)

    def set(self, **given: str) -> Any:
        self.page.bar.start("change")
        dialog = self.page.bar.dialog
        for name, value in given.items():
            widget = dialog[name]
            if hasattr(widget, "findText"):
                widget.setCurrentIndex(widget.findText(value))
            else:
                QTest.keyClicks(widget, value)
        QTest.mouseClick(dialog.act_button, LEFT)
        self.settle()
        return dialog


@pytest.fixture
def room(
    qtbot: Any, theme: Theme, background: Background, sqlite_database: Database, clock: Clock, tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> Iterator[Room]:  # fmt: skip
    (tmp_path / "data").mkdir()
    monkeypatch.setattr(settings, "data_folder", partial(Path, tmp_path / "data"))
    yield Room(qtbot, theme, background, sqlite_database, clock)


def test_the_look_is_used_at_once_and_kept(room: Room, tmp_path: Path) -> None:
    assert not room.page.theme.is_dark
    room.set(look="dark")
    room.qtbot.waitUntil(lambda: room.page.theme.is_dark)
    assert read_settings(tmp_path / "data" / SETTINGS)["look"] == "dark"
    assert room.page.banner.text == "The settings are kept."


def test_a_backup_goes_to_the_folder_that_is_set_and_the_reminder_rests(room: Room, tmp_path: Path) -> None:
    QTest.mouseClick(room.page.bar.buttons["back_up"], LEFT)
    room.qtbot.waitUntil(lambda: room.page.banner.text.startswith("folder of backups: none is set"))
    dialog = room.set(backup_folder=str(tmp_path / "nowhere"))
    room.qtbot.waitUntil(lambda: "is not there" in dialog.banner.text)
    dialog.reject()
    (tmp_path / "stick").mkdir()
    room.set(backup_folder=str(tmp_path / "stick"))
    QTest.mouseClick(room.page.bar.buttons["back_up"], LEFT)
    room.qtbot.waitUntil(lambda: room.page.banner.text.startswith("Backed up to "))
    room.settle()
    (copy,) = (tmp_path / "stick").glob("*.sqlite")
    copied = open_database(copy)
    assert read_centre(Workplace(copied)).name == read_centre(Workplace(room.database)).name
    copied.close()


def test_heads_are_kept_in_the_folder_that_is_set_and_verify_lists_all_it_finds(room: Room, tmp_path: Path) -> None:
    dialog = room.set(witness_folders=str(tmp_path / "nowhere"))
    room.qtbot.waitUntil(lambda: "is not there" in dialog.banner.text)
    dialog.reject()
    for name in ("stick", "share"):
        (tmp_path / name).mkdir()
    room.set(backup_folder=str(tmp_path / "stick"), witness_folders=f"{tmp_path / 'stick'}; {tmp_path / 'share'}")
    QTest.mouseClick(room.page.bar.buttons["back_up"], LEFT)
    room.qtbot.waitUntil(lambda: room.page.banner.text.startswith("Backed up to "))
    room.settle()
    assert [len(list((tmp_path / name).glob("heads-*.jsonl"))) for name in ("stick", "share")] == [1, 1]
    QTest.mouseClick(room.page.bar.buttons["verify"], LEFT)
    room.qtbot.waitUntil(lambda: room.page.banner.text.startswith("No break was found"))
    room.settle()
    assert any("signed heads are those of this journal" in line for line in verification(room))
    with room.database.engine.begin() as connection:
        connection.exec_driver_sql("UPDATE person_private SET name = 'Ada' WHERE id = 1")
        connection.exec_driver_sql("DELETE FROM qualification")
    QTest.mouseClick(room.page.bar.buttons["verify"], LEFT)
    room.qtbot.waitUntil(lambda: "everything found is listed" in room.page.banner.text)
    room.settle()
    lines = verification(room)
    assert any(line.startswith("person_private row 1: is not what") for line in lines)
    assert any(line.startswith("qualification row 1: the journal holds it") for line in lines)
    assert any(line.startswith("not shown by any chain: ") for line in lines)


def verification(room: Room) -> list[str]:
    assert room.page.detail is not None
    (table,) = (each for each in room.page.detail.parts if each.title == "Verification")
    return [str(line.cells[0]) for line in table.lines]  # type: ignore[union-attr]


def test_a_backup_is_restored_in_the_place_of_the_records(room: Room, tmp_path: Path) -> None:
    (tmp_path / "stick").mkdir()
    room.set(backup_folder=str(tmp_path / "stick"))
    QTest.mouseClick(room.page.bar.buttons["back_up"], LEFT)
    room.qtbot.waitUntil(lambda: room.page.banner.text.startswith("Backed up to "))
    room.settle()
    workplace = Workplace(room.database, room.clock, room.keys.manager)
    before = read_centre(workplace).name
    correct(workplace, "centre", 1, {"name": "Another name"}, "to see it restored")
    (copy,) = (tmp_path / "stick").glob("*.sqlite")
    assert room.database.path is not None
    with room.qtbot.waitSignal(room.page.records_wanted, timeout=20_000) as wanted:
        room.page.restore(copy, str(room.database.path))
    place, said = wanted.args
    assert place == str(room.database.path)
    assert said.startswith(f"The backup {copy.name} was restored. What stood there is kept as {place}.")
    assert read_centre(workplace).name == before


def test_a_servers_backup_is_made_and_restored_in_the_window_and_it_says_where_what_stood_there_is(
    server_database: Database, qtbot: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    (tmp_path / "stick").mkdir()
    write_settings(data_folder() / SETTINGS, Settings({"look": "light", "backup_folder": str(tmp_path / "stick")}))
    keys = write_centre(server_database, wall_clock())
    far = Workplace(server_database, person_id=keys.manager)
    before = read_centre(far).name
    desk, opened = Desk(partial(open_records, server_database.url), "light"), list[Any]()
    try:
        desk.window.show()
        qtbot.waitUntil(lambda: desk.window.here == PageKey("today"), timeout=20_000)
        opened.append(desk.window._opened)
        desk.background.signed_in.choose(keys.manager)
        desk.window.go(PageKey("settings"))
        page: Any = desk.window.page
        qtbot.waitUntil(lambda: page.is_loaded and not desk.background.is_busy, timeout=20_000)
        qtbot.mouseClick(page.bar.buttons["back_up"], LEFT)
        qtbot.waitUntil(lambda: page.banner.text.startswith("Backed up to "), timeout=20_000)
        (copy,) = (tmp_path / "stick").glob("*.sqlite")
        correct(far, "centre", 1, {"name": "Another name"}, "to see it restored")
        monkeypatch.setattr(settings.QFileDialog, "getOpenFileName", lambda *_: (str(copy), ""))
        qtbot.mouseClick(page.bar.buttons["restore"], LEFT)
        qtbot.waitUntil(lambda: desk.window.here == PageKey("today"), timeout=20_000)
        said = desk.window.page.banner.text
        assert desk.window.windowTitle().startswith(f"{before} – on a server")
        schema = re.search(r"kept as schema (fleetbench_\w+) on the server", said)
        assert schema is not None and said.startswith(f"The backup {copy.name} was restored.")
        assert read_centre(far).name == before and verify(server_database).whole
        with server_database.reading() as connection:
            kept = connection.exec_driver_sql(f"SELECT name FROM {schema[1]}.centre").scalar()
        assert kept == "Another name"
        assert list(data_folder().glob("*.restoring")) == []
    finally:
        desk.close()
        for each in [*opened, desk.window._opened]:
            if each is not None:
                each.workplace.database.close()
        desk.window.deleteLater()
        desk.deleteLater()
        qtbot.wait(1)


@pytest.mark.parametrize(
    ("names", "said"),
    [
        ((), "No backup of these records was made yet"),
        (("fleetbench-2026-05-01-101500.sqlite",), ""),
        (("fleetbench-2026-04-01-101500.sqlite", "fleetbench-2026-04-20-101500.sqlite"), "The last backup is 14 days"),
    ],
)  # fmt: skip
def test_who_made_no_backup_lately_is_reminded(tmp_path: Path, names: tuple[str, ...], said: str) -> None:
    for name in names:
        (tmp_path / name).touch()
    words = backup_reminder(Settings({"look": "light", "backup_folder": str(tmp_path)}), date(2026, 5, 4))
    assert words.startswith(said) and bool(words) == bool(said)


def test_about_tells_version_licences_and_where_the_data_lie(room: Room) -> None:
    texts = [label.text() for label in room.page.findChildren(QLabel)]
    assert __version__ in texts and str(room.database.path) in texts
    table = room.page.detail.parts[-1]  # type: ignore[union-attr]
    assert all(version and licence for _name, version, licence in (line.cells for line in table.lines))  # type: ignore[union-attr]


def test_what_the_program_is_made_of_is_what_it_asks_for() -> None:
    stated = tomllib.loads((Path(__file__).parents[3] / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    names = [each.split(">")[0].split("=")[0] for each in stated["dependencies"]]
    assert list(settings.MADE_OF) == names


def test_every_setting_is_read_somewhere_beside_its_own_list() -> None:
    source = Path(settings.__file__).parents[2]
    text = "".join(path.read_text(encoding="utf-8") for path in source.rglob("*.py"))
    assert all(f'["{each.key}"]' in text for each in CHOICES)
