"""Bringing in a folder of the centre's sheets: checked first, then all of it or nothing, and it can be called off."""

from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QDir, Slot
from PySide6.QtWidgets import (
    QFileDialog,
    QHBoxLayout,
    QLineEdit,
    QMenu,
    QStackedWidget,
    QWidget,
)

from fleetbench.calc.core.languages import say, strung, worded
from fleetbench.window.detail.detail import Detail, Line, Table
from fleetbench.window.detail.view import DetailView
from fleetbench.window.forms.long_work import LongWork
from fleetbench.window.import_export.columns_table import AcceptChanges, pin_line
from fleetbench.window.import_export.spreadsheet_view import SpreadsheetView, beside, layouts_of
from fleetbench.window.look.buttons import ChoiceBox, as_button_text, lead_button, plain_button, put_hint, text_label
from fleetbench.window.look.theme import APART, CLOSE, Theme
from fleetbench.window.look.words import counted
from fleetbench.window.shell.background import Background, Progress
from fleetbench.window.shell.pages import Page, PageContext
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.import_export.bring import Unfinished
from fleetbench.workshop.import_export.spreadsheet import Layout
from fleetbench.workshop.places.register import label_of

if TYPE_CHECKING:
    from fleetbench.workshop.import_export.import_folder import ImportReport

HOW = say(
    "Drop your spreadsheet here or choose it: XLSX, ODS or CSV, as you keep it. Nothing is "
    "written before you press Import. A folder of the program's own files is checked first, "
    "and imported whole or not at all."
)


FILES = "Spreadsheets (*.xlsx *.xlsm *.ods *.xls *.xlsb *.csv *.tsv *.txt);;All files (*)"


def list_page(context: PageContext) -> "BringInPage":
    """The page that takes in sheets."""
    return BringInPage(context.theme, context.background, context.workplace)


class BringInPage(Page):
    """Checks a folder, shows what would change or what is wrong, and takes it in."""

    def __init__(
        self, theme: Theme, background: Background, workplace: Workplace, parent: QWidget | None = None
    ) -> None:
        super().__init__(theme, say("Import files"), parent)
        self._background, self._workplace = background, workplace
        self._checked: str | None = None
        self._changes = 0
        self._shown: str | None = None
        self.is_loaded = True
        self._build()
        self._connect()
        self._show_state()

    def _build(self) -> None:
        how = text_label(HOW, "body", self)
        how.setWordWrap(True)
        self.folder_field = QLineEdit(self)
        put_hint(self.folder_field, worded("Spreadsheet, or folder of files"))
        self.folder_field.setAccessibleName(worded("Spreadsheet, or folder of files"))
        self.file_button = plain_button(self.theme, "Choose file…", "open", self)
        self.choose_button = plain_button(self.theme, "Choose folder…", "open", self)
        self.check_button = lead_button(self.theme, "Check", "", self)
        self.pin_field = pin_line(self)
        self.take_button = lead_button(self.theme, "Import", "bring_in", self)
        self.work = LongWork(
            self.theme, self._background, self.banner, self, cancelled=say("Cancelled: nothing was imported.")
        )
        self.stack = QStackedWidget(self)
        self.result = DetailView(self.theme, "", self.stack)
        self.accepting = AcceptChanges(say("Correct what is recorded as the files state it"), self)
        self.content.addWidget(how)
        self.kept_box = ChoiceBox(self)
        self.kept_box.setAccessibleName(worded("Lists to finish"))
        self.give_button = plain_button(self.theme, "Give my file back…", "", self)
        self.give_button.setMenu(QMenu(self.give_button))
        self.sheet_view = SpreadsheetView(self.theme, self._background, self._workplace, self.stack)
        self.stack.addWidget(self.result)
        self.stack.addWidget(self.sheet_view)
        below = QHBoxLayout()
        below.addWidget(self.kept_box)
        below.addStretch(1)
        below.addWidget(self.give_button)
        buttons = (self.file_button, self.choose_button, self.check_button, self.pin_field, self.take_button)
        self.content.addLayout(self._row(self.folder_field, *buttons))
        self.content.addWidget(self.work)
        self.content.addWidget(self.stack, 1)
        self.content.addWidget(self.accepting)
        self.content.addLayout(below)
        self._show_kept()

    def _row(self, first: QWidget, *others: QWidget) -> QHBoxLayout:
        row = QHBoxLayout()
        row.setSpacing(CLOSE if others else APART)
        row.addWidget(first, 1)
        for other in others:
            row.addWidget(other)
        return row

    def _connect(self) -> None:
        self.choose_button.clicked.connect(self._on_choose)
        self.folder_field.textChanged.connect(self._on_folder_changed)
        self.folder_field.returnPressed.connect(self.check)
        self.check_button.clicked.connect(self.check)
        self.pin_field.returnPressed.connect(self.take_in)
        self.take_button.clicked.connect(self.take_in)
        self.accepting.toggled.connect(self._show_state)
        self.accepting.entered.connect(self.take_in)
        self.work.changed.connect(self._show_state)
        self.file_button.clicked.connect(self._on_choose_file)
        self.kept_box.activated.connect(self._on_kept)
        self.sheet_view.imported.connect(self._on_imported)
        self.sheet_view.refused.connect(self.banner.say_refused)

    def open_path(self, path: Path) -> None:
        """Look at a file or folder that was dropped or chosen."""
        self.folder_field.setText(str(path))
        self.check()

    def focus_first(self) -> None:
        """Put the keyboard on the folder."""
        self.folder_field.setFocus()

    @Slot()
    def check(self) -> None:
        """Check the folder and show what would change; nothing is written."""
        self._start(dry_run=True)

    @Slot()
    def take_in(self) -> None:
        """Take the checked folder in."""
        if self._checked == self.folder_field.text():
            self._start(dry_run=False)

    def _start(self, *, dry_run: bool) -> None:
        folder = self.folder_field.text().strip()
        if self.work.is_busy or not folder:
            return
        if Path(folder).is_file():
            self.banner.clear()
            self.stack.setCurrentWidget(self.sheet_view)
            self._shown = folder
            self._show_state()
            self.sheet_view.open_path(Path(folder))
            return
        self.stack.setCurrentWidget(self.result)
        workplace, pin = self._workplace, self.pin_field.text()
        why = self.accepting.why if not dry_run else None
        self.pin_field.clear()
        self.banner.clear()
        self.work.start(
            lambda progress: take(workplace, Path(folder), dry_run, progress, pin, why),
            self._on_checked if dry_run else self._on_taken,
        )

    def _show_state(self) -> None:
        busy, folder = self.work.is_busy, bool(self.folder_field.text().strip())
        self.folder_field.setEnabled(not busy)
        self.choose_button.setEnabled(not busy)
        ready = self._checked is not None and self._checked == self.folder_field.text()
        self.check_button.setVisible(not ready and self._shown != self.folder_field.text())
        self.check_button.setEnabled(folder and not busy)
        self.take_button.setVisible(ready)
        self.pin_field.setVisible(ready)
        self.pin_field.setEnabled(ready and not busy)
        asked = ready and bool(self._changes)
        self.accepting.offer(asked)
        self.take_button.setEnabled(ready and not busy and (self.accepting.why is not None or not asked))

    @Slot()
    def _on_choose(self) -> None:
        folder = QFileDialog.getExistingDirectory(self, worded("Folder of files"), self.folder_field.text())
        if folder:
            self.folder_field.setText(QDir.toNativeSeparators(folder))

    @Slot()
    def _on_choose_file(self) -> None:
        name, _ = QFileDialog.getOpenFileName(self, worded("Spreadsheet"), self.folder_field.text(), FILES)
        if name:
            self.open_path(Path(QDir.toNativeSeparators(name)))

    @Slot(int)
    def _on_kept(self, number: int) -> None:
        if number > 0:
            kept = self.kept_box.itemData(number)
            self.stack.setCurrentWidget(self.sheet_view)
            self.sheet_view.open_unfinished(kept)

    def _show_kept(self) -> None:
        listed = Unfinished.listed(beside(self._workplace))
        self.kept_box.clear()
        self.kept_box.addItem(worded(say("To finish: {count}", count=len(listed))))
        for each in listed:
            self.kept_box.addItem(each.label, each)
        self.kept_box.setVisible(bool(listed))
        menu, brought = self.give_button.menu(), layouts_of(self._workplace).listed()
        menu.clear()
        for path, layout, names in brought:
            action = menu.addAction(as_button_text(f"{path.name}: {layout.subject}"))
            action.triggered.connect(partial(self._on_give_back, path, layout, names))
        self.give_button.setVisible(bool(brought))

    def _on_give_back(self, path: Path, layout: Layout, names: tuple[str, ...], _checked: bool = False) -> None:
        beside_it = str(path.with_name(f"{path.stem} current.xlsx"))
        chosen, _ = QFileDialog.getSaveFileName(self, worded("Give the file back"), beside_it, "Spreadsheet (*.xlsx)")
        if chosen:
            self.give_back_to(path, layout, names, Path(chosen).with_suffix(".xlsx"))

    def give_back_to(self, path: Path, layout: Layout, names: tuple[str, ...], target: Path) -> None:
        """Write a brought file again, filled in and current."""
        job = self._background.run(partial(_give_back, self._workplace, path, layout, names, target), self)
        job.succeeded.connect(self.banner.say_note)
        job.refused.connect(self.banner.say_refused)

    @Slot(str)
    def _on_imported(self, line: str) -> None:
        self.banner.say_note(line)
        self._show_kept()
        self.action_requested.emit("records_changed")

    @Slot()
    def _on_folder_changed(self) -> None:
        self._checked, self._shown, self._changes = None, None, 0
        self.accepting.begin_again()
        self._show_state()

    @Slot(object)
    def _on_checked(self, report: "ImportReport") -> None:
        self.result.show_detail(report_detail(report))
        self._changes = len(report.changes)
        self.accepting.tell(report.said if report.changes else ())
        if not report.faults and (any(report.added.values()) or report.changes):
            self._checked = self.folder_field.text()

    @Slot(object)
    def _on_taken(self, report: "ImportReport") -> None:
        self._checked = None
        self.result.show_detail(report_detail(report))
        if report.written:
            self._changes = 0
            self.accepting.begin_again()
            corrected = (
                say(", {corrected} corrected", corrected=counted(report.corrected, "value")) if report.corrected else ""
            )
            line = say(
                "{values} imported{corrected}.",
                values=counted(sum(report.added.values()), "record"),
                corrected=corrected,
            )
            self.banner.say_note(strung(" ", (line, *report.said)))
            self.action_requested.emit("records_changed")


def _give_back(workplace: Workplace, path: Path, layout: Layout, names: tuple[str, ...], target: Path) -> str:
    # openpyxl is slow to import
    from fleetbench.printing import give_back

    return say(
        "{workplace} written to {target}.",
        workplace=counted(give_back(workplace, path, layout, names, target), "record"),
        target=target,
    )


def take(
    workplace: Workplace, folder: Path, dry_run: bool, progress: Progress, pin: str = "", why: str | None = None
) -> "ImportReport":
    """What was imported, or would be; cancelled between two steps when progress says so.

    why: the reason with which changes of recorded rows were accepted, None while they were not.
    """
    # What reads sheets takes longer to import than the window takes to open.
    from fleetbench.workshop.places.accept import folder_looked_at

    def told(what: str, part: float) -> None:
        progress(round(1000 * part), 1000, what)

    return folder_looked_at(workplace, folder, why, dry_run=dry_run, pin=pin, progress=told)


def report_detail(report: "ImportReport") -> Detail:
    """Faults to correct, else rows by sheet."""
    if report.faults:
        lines = tuple(
            Line((fault.sheet, str(fault.row) if fault.row else "", fault.column, fault.message))
            for fault in report.faults
        )
        return Detail(
            say("{count} to correct", count=counted(len(lines), "fault")),
            say("Nothing was written. Correct the files and check again."),
            parts=(Table("Faults", ("File", "Row", "Column", "What is wrong"), lines),),
        )
    new = sum(report.added.values())
    title = say("Nothing new")
    if new:
        records = counted(new, "new record")
        title = records if report.written else say("{records} to import", records=records)
    if report.changes and not report.written:
        title = strung(", ", (title, say("{count} to accept", count=counted(len(report.changes), "change"))))
    lines = tuple(
        Line((sheet.replace("_", " "), str(count), str(report.unchanged.get(sheet, 0))))
        for sheet, count in report.added.items()
        if count or report.unchanged.get(sheet)
    )
    notes = (Table("To know", ("Looser than what is recorded",), tuple(Line((note,)) for note in report.notes)),)
    parts = (Table("By file", ("File", "New", "Unchanged"), lines), *(notes if report.notes else ()))
    changes = tuple(
        Line((each.sheet.replace("_", " "), str(each.row), label_of(each.column), each.before, each.after))
        for each in report.changes
    )
    if report.said and not report.written:
        follows = tuple(Line((line,)) for line in report.said)
        parts = (
            Table("What follows", ("If it is imported, and its changes accepted",), follows),
            *parts,
        )
    if changes:
        columns = ("File", "Row", "Column", "Recorded", say("The file says"))
        parts = (Table("Corrected" if report.written else "Changes to accept", columns, changes), *parts)
    return Detail(title, say("No fault was found."), parts=parts)
