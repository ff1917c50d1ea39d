"""Settings, backups, and what the program is made of: one page."""

from collections.abc import Callable
from functools import partial
from importlib.metadata import PackageNotFoundError, metadata
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from PySide6.QtCore import Signal, Slot
from PySide6.QtWidgets import QFileDialog, QWidget

from fleetbench import __version__
from fleetbench.calc.core.languages import say, shown, strung, worded
from fleetbench.records.core.errors import Refused
from fleetbench.settings import (
    CHOICES,
    SETTINGS,
    Setting,
    Settings,
    backup_name,
    backup_reminder,
    data_folder,
    keep_witness,
    last_backup,
    read_settings,
    witness_folders,
    write_settings,
)
from fleetbench.window.detail.detail import Detail, Fact, Line, Section, Table
from fleetbench.window.detail.record_page import RecordPage
from fleetbench.window.forms.form import Field, Form, replacing
from fleetbench.window.lists.act_bar import ActBar, ActSpec
from fleetbench.window.shell.pages import PageContext
from fleetbench.workshop.core.workplace import Workplace, with_theirs

if TYPE_CHECKING:
    from fleetbench.records.upkeep.verify import VerifyReport

MADE_OF = (
    "PySide6-Essentials", "SQLAlchemy", "alembic", "reportlab", "babel", "pandas", "numpy", "scipy", "pyqtgraph",
    "platformdirs", "python-dateutil", "icalendar", "openpyxl", "python-calamine",
    "argon2-cffi", "cryptography", "pillow", "typer", "font-roboto", "manimgx-fonts", "uharfbuzz", "python-bidi",
    "fonttools", "tzdata", "pypdfium2",
)  # fmt: skip
"""What is shipped with the program or installed beside it."""
_EAST_ASIAN = "manimgx-fonts-cjk"
"""An extra, told where it is installed."""


class InForce(NamedTuple):
    """The settings in force, and the file or address of the records."""

    settings: Settings
    database: str


def list_page(context: PageContext) -> "SettingsPage":
    """The page of settings."""
    return SettingsPage(context)


def settings_form(settings: Settings, keep: Callable[[Settings], object]) -> Form:
    """Every setting of the typed list."""

    def act(seen: dict[str, str], **given: str) -> str:
        mine, now = {key: value.strip() for key, value in given.items()}, read_settings(data_folder() / SETTINGS)
        words = {each.title.lower(): (each.key,) for each in CHOICES}
        keep(Settings(with_theirs("settings", mine, seen, {key: now[key] for key in mine}, words)))
        return say("The settings are kept.")

    fields, seen = (
        tuple(_field(each, settings[each.key]) for each in CHOICES),
        {each.key: settings[each.key] for each in CHOICES},
    )
    return Form("Settings", act_words="Save settings", note="", fields=fields, act=replacing(seen, act))


def _field(choice: Setting, value: str) -> Field:
    if choice.allowed:
        return Field(
            choice.key, choice.title, "choice", choices=[(each, each) for each in choice.allowed], default=value
        )
    return Field(choice.key, choice.title, hint=choice.help, default=value, longest=1000)


def _keep(settings: Settings) -> None:
    folder = settings["backup_folder"]
    if folder and not Path(folder).is_dir():
        raise Refused(say("folder of backups: {folder} is not there; make it first, or choose another", folder=folder))
    for each in witness_folders(settings):
        if not each.is_dir():
            raise Refused(say("folders of witnesses: {each} is not there; make it first, or choose another", each=each))
    write_settings(data_folder() / SETTINGS, settings)


def back_up(workplace: Workplace, settings: Settings) -> str:
    """A checked copy of the records and photographs in the folder of backups; a sentence."""
    # It reads the tables' definitions, which takes as long as showing the window.
    from fleetbench.records.upkeep.backup import backup

    if not settings["backup_folder"]:
        raise Refused(say("folder of backups: none is set; choose one under Change settings"))
    target = Path(settings["backup_folder"]) / backup_name(workplace.clock().astimezone(workplace.zone()))
    backup(workplace.database, target)
    return strung(
        " ",
        (
            say("Backed up to {target}.", target=target),
            *keep_witness(workplace.database, data_folder(), workplace.clock()),
        ),
    )


def verify_records(workplace: Workplace, settings: Settings) -> "VerifyReport":
    """What verify finds in the records, and what the heads kept in the folders of witnesses say of them."""
    # It reads the tables' definitions, which takes as long as showing the window.
    from fleetbench.records.upkeep.witness import verify_beside

    places = [each for each in witness_folders(settings) if any(each.glob("heads-*.jsonl"))]
    return verify_beside(workplace.database, data_folder(), places=places)


def _change(_bar: ActBar, known: InForce) -> Form:
    return settings_form(known.settings, _keep)


def _back_up(bar: ActBar, known: InForce) -> None:
    bar.run(partial(back_up, bar.workplace, known.settings), bar.changed.emit)


def _verify(bar: ActBar, known: InForce) -> None:
    page = bar.parent()
    assert isinstance(page, SettingsPage)
    bar.run(partial(verify_records, bar.workplace, known.settings), page.show_report)


def _restore(bar: ActBar, known: InForce) -> None:
    page = bar.parent()
    assert isinstance(page, SettingsPage)
    folder = known.settings["backup_folder"] or str(Path.home())
    path, _kind = QFileDialog.getOpenFileName(bar, worded("Backup to restore"), folder, "Backups (*.sqlite)")
    if path:
        page.restore(Path(path), known.database)


def _told(_row: object, value: object) -> str:
    return shown(str(value))


ACTS = (
    ActSpec("change", "Change settings", form=_change, said=_told),
    ActSpec("back_up", "Back up now", form=_back_up),
    ActSpec("verify", "Verify records", form=_verify),
    ActSpec("restore", "Restore a backup", act="import", form=_restore),
)


class SettingsPage(RecordPage):
    """What is set, when the last backup was made, and what the program is made of.

    Signals:
        records_wanted: the place of the records to open after a backup was restored, and what to say of it.
    """

    records_wanted = Signal(str, str)

    def __init__(self, context: PageContext, parent: QWidget | None = None) -> None:
        reports: list[VerifyReport] = []
        super().__init__(context.theme, context.background, partial(_detail, context, reports), parent)
        self.context, self.reports = context, reports
        self.key = "settings"
        self.bar = ActBar(context, ACTS, None, self)
        self.content.insertWidget(3, self.bar)
        self.bar.changed.connect(self._on_changed)
        self.bar.refused.connect(self.banner.say_refused)

    def show_detail(self, detail: Detail) -> None:
        """Show the settings and offer what can be done."""
        super().show_detail(detail)
        self.bar.choose(InForce(read_settings(data_folder() / SETTINGS), _place(self.context)))

    def restore(self, source: Path, where: str) -> None:
        """Put a backup in the place of the records; what stood there is kept."""
        self.bar.run(partial(_put_back, self.context, source, where), partial(self.records_wanted.emit, where))

    @Slot(object)
    def show_report(self, report: "VerifyReport") -> None:
        """Show everything that verify found."""
        self.reports[:] = [report]
        self.refresh()
        if report.whole:
            self.banner.say_note(say("No break was found in {entries} entries.", entries=report.entries))
        else:
            self.banner.say_refused(
                say("{breaks}; everything found is listed under Verification.", breaks=report.breaks[0])
            )

    @Slot(str)
    def _on_changed(self, words: str) -> None:
        self.theme.set_look(read_settings(data_folder() / SETTINGS)["look"])
        self.refresh()
        self.banner.say_note(words)


def _place(context: PageContext) -> str:
    """The file or address of the records."""
    database = context.workplace.database
    return str(database.path or database.url)


def _put_back(context: PageContext, source: Path, where: str) -> str:
    """Restore a backup; what to say of it."""
    # It reads the tables' definitions, which takes as long as showing the window.
    from fleetbench.records.upkeep.backup import restore

    context.workplace.database.close()
    made = restore(source, where)
    return strung(" ", (say("The backup {name} was restored.", name=source.name), *made.told))


def _detail(context: PageContext, reports: "list[VerifyReport]", _key: str) -> Detail:
    settings = read_settings(data_folder() / SETTINGS)
    newest = last_backup(settings["backup_folder"])
    path = context.workplace.database.path
    chosen = tuple(Fact(each.title, say(settings[each.key] or "none"), note=say(each.help)) for each in CHOICES)
    backups = (
        Fact("Last backup", newest.name if newest is not None else say("none")),
        Fact("Reminder", backup_reminder(settings, context.workplace.today()) or say("none needed")),
    )
    about = (
        Fact("Version", __version__),
        Fact("Records", str(path) if path is not None else say("on a server")),
        Fact("Settings and sample", str(data_folder())),
        Fact("", say("It records and compares; it never says that a unit is safe to dive. The maker's manual, "
"the training standard and local law stand above it.")),
    )  # fmt: skip
    made_of = (*MADE_OF, _EAST_ASIAN) if find_spec(_EAST_ASIAN.replace("-", "_")) is not None else MADE_OF
    licences = tuple(Line((name, *_version_and_licence(name))) for name in made_of)
    parts: tuple[Section | Table, ...] = (
        Section("Settings", chosen),
        Section("Backups", backups),
        *(Table("Verification", ("Found",), tuple(Line((line,)) for line in each.lines)) for each in reports),
        Section("About fleetbench", about),
        Table("Made with", ("Package", "Version", "Licence"), licences),
    )
    return Detail(say("Settings and about"), "", (), parts)


def _version_and_licence(name: str) -> tuple[str, str]:
    """Version and licence of a package as it states them, in one line."""
    try:
        told = metadata(name)
    except PackageNotFoundError:
        return say("not installed"), ""
    fields = told.json
    listed = fields.get("classifier", [])
    classified = [each.rpartition(" :: ")[2] for each in listed if each.startswith("License ::")]
    stated = (
        fields.get("license_expression") or strung("; ", classified) or fields.get("license") or say("as its files say")
    )
    return str(fields["version"]), str(stated).strip().splitlines()[0][:80]
