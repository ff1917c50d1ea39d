"""Photographs beside a record: taken while it is entered or afterwards, shown small, opened large.

What a user wrote stands beside them as it is, never as markup; the pictures were freed of all that a camera writes.
"""

from collections.abc import Mapping, Sequence
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from PySide6.QtCore import QBuffer, QEvent, QMimeData, QObject, QSize, Qt, Signal, Slot
from PySide6.QtGui import QDragEnterEvent, QDropEvent, QGuiApplication, QIcon, QImage, QKeySequence, QPixmap, QShortcut
from PySide6.QtWidgets import QDialog, QFileDialog, QLabel, QPushButton, QScrollArea, QVBoxLayout, QWidget

from fleetbench.calc.core.languages import say, say_count, worded
from fleetbench.records.core.errors import Refused
from fleetbench.window.look.buttons import plain_button, quiet_button, text_label
from fleetbench.window.look.flow import FlowLayout
from fleetbench.window.look.theme import APART, BLOCK, CLOSE, GRID, TIGHT, Theme
from fleetbench.window.look.words import as_plain_tip
from fleetbench.window.shell.background import Background, Job
from fleetbench.window.shell.pages import Page

if TYPE_CHECKING:
    # Only named here: it reads the tables' definitions, which takes longer than showing the window.
    from fleetbench.workshop.core.workplace import Workplace

PHOTOGRAPH_KEY, PHOTOGRAPH_WORDS = "F7", "Photograph"
PICTURES = "Pictures (*.jpg *.jpeg *.png *.webp *.bmp *.tif *.tiff)"
SMALL = QSize(160, 110)
"""Pixels of a small picture."""


class Pictured(NamedTuple):
    """A photograph as it is shown: what it is, when and by whom it was taken, and itself; None where its file is gone.

    digest: its SHA-256.
    """

    words: str
    taken: str
    digest: str
    picture: QImage | None


def picture_button(theme: Theme, of: Pictured, parent: QWidget, room: QSize = SMALL) -> QPushButton:
    """A small picture that opens large; its words are what a screen reader says."""
    button = quiet_button(theme, "", "", parent)
    if of.picture is None:
        button.setText(worded("missing or changed"))
    else:
        button.setIcon(QIcon(_scaled(of.picture, room)))
        button.setIconSize(room)
        button.clicked.connect(partial(_open_large, button, of))
    button.setFixedHeight(room.height() + 2 * CLOSE)
    button.setAccessibleName(worded(say("photograph: {value}", value=of.words or "no caption")))
    button.setToolTip(as_plain_tip(of.taken))
    return button


def with_caption(theme: Theme, of: Pictured, parent: QWidget) -> tuple[QWidget, QVBoxLayout]:
    """A small picture over its words, and the layout to add to."""
    held = QWidget(parent)
    column = QVBoxLayout(held)
    column.setContentsMargins(0, 0, 0, 0)
    column.setSpacing(TIGHT)
    column.addWidget(picture_button(theme, of, held), 0, Qt.AlignmentFlag.AlignLeft)
    for words in filter(None, (of.words, of.taken)):
        label = text_label(words, "small", held)
        label.setWordWrap(True)
        label.setFixedWidth(SMALL.width() + 2 * CLOSE)
        column.addWidget(label)
    return held, column


def _open_large(button: QPushButton, of: Pictured, _checked: bool = False) -> None:
    dialog = QDialog(button)
    dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
    dialog.setWindowTitle(worded(PHOTOGRAPH_WORDS))
    label = QLabel(dialog)
    label.setAccessibleName(button.accessibleName())
    if of.picture is not None:
        label.setPixmap(_scaled(of.picture, button.window().size() - QSize(20 * GRID, 20 * GRID)))
    QVBoxLayout(dialog).addWidget(label)
    dialog.open()


def _scaled(picture: QImage, room: QSize) -> QPixmap:
    """The picture as large as fits."""
    kept, smooth = Qt.AspectRatioMode.KeepAspectRatio, Qt.TransformationMode.SmoothTransformation
    return QPixmap.fromImage(picture.scaled(room, kept, smooth))


class PhotographBeside(QObject):
    """The way of a photograph to a record: a button and its key, a drop on the button, or a paste.

    Before the record is made a photograph is held, so that the act that makes it keeps both or neither; afterwards it
    is kept beside it at once. held: their SHA-256, which the record was or will be given.

    Signals:
        changed: other photographs are held.
    """

    changed = Signal()

    def __init__(self, page: Page, background: Background, workplace: "Workplace") -> None:
        super().__init__(page)
        self._page, self._background, self._workplace = page, background, workplace
        self._of: tuple[str, int] | None = None
        self._expects = False
        self._turn = 0
        self._job: Job | None = None
        self.held: tuple[str, ...] = ()
        self.gallery: QDialog | None = None
        self.button = plain_button(page.theme, f"{worded(PHOTOGRAPH_WORDS)}   {PHOTOGRAPH_KEY}", "", page)
        self.button.setToolTip(worded("Of the handset or the label; choose a file, drop it here, or paste a picture"))
        self.button.setAcceptDrops(True)
        self.button.installEventFilter(self)
        self.door = quiet_button(page.theme, "", "", page)
        for each, pressed in ((self.button, self.choose), (self.door, self.look)):
            page.heading.addWidget(each)
            each.clicked.connect(pressed)
        self._keys = [QShortcut(each, page) for each in (QKeySequence(PHOTOGRAPH_KEY), QKeySequence.StandardKey.Paste)]
        for key, act in zip(self._keys, (self.choose, self.paste), strict=True):
            key.setContext(Qt.ShortcutContext.WidgetWithChildrenShortcut)
            key.activated.connect(act)
        self._show()

    def offer(self, made: str = "", key: int | None = None) -> None:
        """Take photographs beside this record, which has those that are held; beside none without a key."""
        self._of = None if key is None else (made, key)
        self.held = () if key is None else self.held
        self._begin(expects=False)

    def expect(self, held: Sequence[str] = ()) -> None:
        """Hold photographs of what is being entered, these to begin with."""
        self._of, self.held = None, tuple(held)
        self._begin(expects=True)

    def require_settled(self) -> None:
        """Nothing where no photograph is on its way; Refused else, since the record would be made without it."""
        if self._job is not None:
            raise Refused(say("photograph: is still being read; record it in a moment"))

    def _begin(self, *, expects: bool) -> None:
        self._expects = expects
        self._turn += 1
        self._show()

    def _show(self) -> None:
        takes = self._expects or self._of is not None
        self.button.setVisible(takes)
        for each in self._keys:
            each.setEnabled(takes)
        self.door.setVisible(bool(self.held))
        told = say_count("{count} photograph", "{count} photographs", len(self.held))
        self.door.setText(worded(told))
        self.door.setToolTip(
            worded("Recorded together with the figures" if self._expects else "Kept beside what was recorded")
        )

    @Slot()
    def choose(self) -> None:
        """Ask for a file."""
        name, _kind = QFileDialog.getOpenFileName(self._page, PHOTOGRAPH_WORDS, "", PICTURES)
        if name:
            self.give(Path(name))

    @Slot()
    def paste(self) -> None:
        """Take what was copied: a file, or a picture."""
        self._take(QGuiApplication.clipboard().mimeData())

    def _take(self, copied: QMimeData) -> None:
        files = [each.toLocalFile() for each in copied.urls() if each.isLocalFile()]
        image = copied.imageData() if copied.hasImage() and not files else None
        if files:
            self.give(Path(files[0]))
        elif isinstance(image, QImage) and not image.isNull():
            held = QBuffer(self)
            image.save(held, "PNG")  # type: ignore[call-overload]  # the stub knows no buffer
            self.give(bytes(held.data().data()))
        else:
            self._page.banner.say_refused(say("photograph: nothing that was copied is a picture; choose a file"))

    def give(self, source: Path | bytes) -> None:
        """Keep a picture beside the record, or hold it until there is one."""
        from fleetbench.workshop.tickets.photographs import hold_photograph, photograph_record  # read already

        if self._job is not None or not (self._expects or self._of is not None):
            return
        work = partial(hold_photograph, self._workplace, source)
        if self._of is not None:
            work = partial(photograph_record, self._workplace, *self._of, source)
        self._job = self._background.run(work, self)
        self._job.succeeded.connect(partial(self._on_taken, self._turn))
        self._job.refused.connect(self._page.banner.say_refused)
        self._job.ended.connect(self._on_ended)

    def _on_taken(self, turn: int, digest: str) -> None:
        if turn != self._turn:
            self._page.banner.say_refused(say("photograph: the page went on meanwhile; look at it, then take it again"))
            return
        self.held = tuple(dict.fromkeys((*self.held, digest)))
        self._show()
        self.changed.emit()
        self._page.banner.say_note(
            say("Photograph taken. Recording the figures records it too.")
            if self._expects
            else say("The photograph is kept beside what was recorded.")
        )

    @Slot()
    def _on_ended(self) -> None:
        self._job = None

    @Slot()
    def look(self) -> None:
        """Show the photographs, to be opened large, and to be removed while they are not recorded."""
        from fleetbench.workshop.tickets.photographs import pictures_of  # read already, with the page

        job = self._background.read(partial(pictures_of, self._workplace, self.held), self)
        job.succeeded.connect(self._on_loaded)

    @Slot(object)
    def _on_loaded(self, pictures: Mapping[str, bytes]) -> None:
        self.gallery = dialog = QDialog(self._page)
        dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        dialog.setWindowTitle(worded("Photographs"))
        dialog.finished.connect(self._page.focus_first)
        area, body = QScrollArea(dialog), QWidget()
        body.setObjectName("scrolled")
        area.setWidgetResizable(True)
        area.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        layout = FlowLayout(body, APART)
        for number, digest in enumerate(self.held, start=1):
            data = pictures.get(digest)
            words = say("{number} of {count}", number=number, count=len(self.held))
            of = Pictured(words, "", digest, QImage.fromData(data) if data is not None else None)
            cell, column = with_caption(self._page.theme, of, body)
            if self._expects:
                remove = plain_button(self._page.theme, "Remove", "", cell)
                remove.setAccessibleName(worded(say("remove photograph {words}", words=words)))
                remove.clicked.connect(partial(self._remove, digest, dialog))
                column.addWidget(remove, 0, Qt.AlignmentFlag.AlignLeft)
            layout.addWidget(cell)
        close = plain_button(self._page.theme, "Close", "", dialog)
        close.clicked.connect(dialog.close)
        whole = QVBoxLayout(dialog)
        whole.setContentsMargins(BLOCK, BLOCK, BLOCK, BLOCK)
        whole.setSpacing(APART)
        area.setWidget(body)
        whole.addWidget(area, 1)
        whole.addWidget(close, 0, Qt.AlignmentFlag.AlignLeft)
        across = min(3, max(2, len(self.held)))
        dialog.resize(across * (SMALL.width() + 14 * GRID) + 2 * BLOCK, SMALL.height() + 46 * GRID)
        dialog.open()

    def _remove(self, digest: str, dialog: QDialog, _checked: bool = False) -> None:
        if self._expects:
            self.held = tuple(each for each in self.held if each != digest)
            self._show()
            self.changed.emit()
        dialog.close()

    # Qt overrides

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        if isinstance(event, QDragEnterEvent | QDropEvent):
            event.acceptProposedAction()
            if event.type() == QEvent.Type.Drop:
                self._take(event.mimeData())
            return True
        return super().eventFilter(watched, event)
