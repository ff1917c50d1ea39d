"""Signs that cannot be printed are told before the printer is asked."""

from typing import Any

import pytest
from PySide6.QtPrintSupport import QPrintDialog
from PySide6.QtWidgets import QDialog, QMessageBox, QWidget
from pytestqt.qtbot import QtBot

from fleetbench.paper.canisters.labels import write_fill_labels
from fleetbench.paper.core import scripts
from fleetbench.window.shell.pictures import lacking_words, print_pages
from tests.paper import sample_pages
from tests.paper.pdf_reader import made


def test_a_name_that_would_print_as_boxes_is_asked_about_before_the_printer_is_chosen(
    qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    told: list[str] = []
    chosen: list[object] = []
    answers = iter([QMessageBox.StandardButton.Cancel, QMessageBox.StandardButton.Ignore])

    def ask(_parent: object, _title: str, words: str, _buttons: Any) -> QMessageBox.StandardButton:
        told.append(words)
        return next(answers)

    def choose(self: QPrintDialog) -> QDialog.DialogCode:
        chosen.append(self)
        return QDialog.DialogCode.Rejected

    monkeypatch.setattr(QMessageBox, "warning", ask)
    monkeypatch.setattr(QPrintDialog, "exec", choose)
    parent = QWidget()
    qtbot.addWidget(parent)
    whole = made(write_fill_labels, [sample_pages.fill_label()])
    lacking = made(write_fill_labels, [sample_pages.fill_label(diver="བསྟན་")])
    assert lacking_words(whole) == "" and "□" in lacking_words(lacking) and "cjk" not in lacking_words(lacking)
    with monkeypatch.context() as bare:
        bare.setattr(scripts, "east_asian_faces", lambda: False)
        assert "extra named cjk" in lacking_words(lacking)
    assert not print_pages([whole, lacking], parent)
    assert (len(told), chosen) == (1, []), "cancelled before the printer was asked for"
    assert not print_pages([whole, lacking], parent)
    assert not print_pages([whole], parent)
    assert (len(told), len(chosen)) == (2, 2)
