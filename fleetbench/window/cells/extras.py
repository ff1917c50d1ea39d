"""What is recorded where it was taken: zero readings, points above 1 bar, the handsets' own calibration, a note."""

from collections.abc import Sequence

from PySide6.QtCore import Signal, Slot
from PySide6.QtWidgets import QGridLayout, QHBoxLayout, QLineEdit, QPushButton, QVBoxLayout, QWidget

from fleetbench.calc.cells.readings import CellPoint
from fleetbench.calc.core.languages import say, strung, worded
from fleetbench.calc.core.measures import CELSIUS
from fleetbench.calc.core.plausible import FRACTION_SET, ROOM_PRESSURE, ROOM_TEMPERATURE, SHOWN_PO2
from fleetbench.window.cells.grid import ReadingGrid
from fleetbench.window.forms.fields import DecimalField, StepCard, labelled, with_unit
from fleetbench.window.forms.figure import FigureField, bar_rule, pot_rule, zero_rule
from fleetbench.window.forms.metered import over_its_line
from fleetbench.window.look.buttons import choice_button, plain_button, quiet_button, text_label
from fleetbench.window.look.flow import FlowLayout
from fleetbench.window.look.theme import APART, BLOCK, CLOSE, Theme
from fleetbench.workshop.cells.entry import HandsetEntry, ReadingEntry
from fleetbench.workshop.cells.plan import CalibrationPlan

PANELS = (
    ("zero", say("Zero readings")),
    ("pot", say("Points above 1 bar")),
    ("handsets", say("Handsets' own calibration")),
    ("note", say("Temperature in oxygen, note")),
)


HANDSET_QUANTITIES = (FRACTION_SET, ROOM_PRESSURE, SHOWN_PO2, SHOWN_PO2)


class ExtrasCard(StepCard):
    """Panels that open when they are wanted.

    Signals:
        changed: something was given in one of them.
        asked: a line that asks about a figure; empty once settled.
        refused: one line that names the field and the remedy.
    """

    changed = Signal()
    asked = Signal(str)
    refused = Signal(str)

    def __init__(self, theme: Theme, held: CalibrationPlan, parent: QWidget | None = None) -> None:
        super().__init__(theme, say("Also, where it was taken"), parent)
        self._held = held
        self._pots: list[ReadingEntry] = []
        self.panel_buttons: dict[str, QPushButton] = {}
        self._panels: dict[str, QWidget] = {}
        line = FlowLayout()
        for name, title in PANELS:
            button = choice_button(theme, title, self)
            button.toggled.connect(self._on_toggled)
            self.panel_buttons[name] = button
            line.addWidget(button)
        self.body.addLayout(line)
        for name, build in (
            ("zero", self._zero_panel), ("pot", self._pot_panel), ("handsets", self._handset_panel),
            ("note", self._note_panel),
        ):  # fmt: skip
            panel = build()
            panel.hide()
            self._panels[name] = panel
            self.body.addWidget(panel)

    def _zero_panel(self) -> QWidget:
        self.zero = ReadingGrid(self.theme, self._held, "zero", zero_rule, parent=self)
        self.zero.entered.connect(self._on_entered)
        self.zero.asked.connect(self.asked)
        return self._under(say("What each handset shows with no oxygen at the cell, or its input shorted."), self.zero)

    def _pot_panel(self) -> QWidget:
        self.pot_bar = FigureField(bar_rule(1.0, 2.4), say("oxygen pressure in the pot"), self)
        self.pot_bar.expect(
            last=max((each.pot_bar or 0.0 for each in self._held.last_shown.values()), default=0.0) or None
        )
        self.pot_bar.meter.serve(say("pressure pot"), self.pot_bar.rule.unit)
        self.pot_grid = ReadingGrid(self.theme, self._held, "pot", pot_rule, parent=self)
        self.pot_bar.entered.connect(self.pot_grid.focus_first)
        self.pot_bar.passed.connect(self.pot_grid.focus_first)
        self.pot_bar.asked.connect(self.asked)
        self.pot_grid.asked.connect(self.asked)
        self.add_pot = plain_button(self.theme, "Add the point", "", self)
        self.drop_pots = quiet_button(self.theme, "Drop all points", "", self)
        self._pot_list = text_label("", "body", self)
        self.pot_grid.completed.connect(self.add_pot.setFocus)
        self.add_pot.clicked.connect(self._on_add_pot)
        self.drop_pots.clicked.connect(self._on_drop_pots)
        panel = self._under(
            say(
                "Oxygen partial pressure in the pressure pot (pot pressure times analysed fraction), bar "
                "absolute: 160 is 1.60. A reading seen in the water is no pot point."
            ),
            None,
        )
        first = QHBoxLayout()
        first.setSpacing(CLOSE)
        first.addLayout(over_its_line(self.pot_bar, panel))
        first.addWidget(text_label(say("bar"), "small", panel))
        first.addWidget(self._pot_list, 1)
        buttons = QHBoxLayout()
        buttons.setSpacing(APART)
        buttons.addWidget(self.add_pot)
        buttons.addWidget(self.drop_pots)
        buttons.addStretch(1)
        layout = panel.layout()
        assert isinstance(layout, QVBoxLayout)
        layout.addLayout(first)
        layout.addWidget(self.pot_grid)
        layout.addLayout(buttons)
        return panel

    def _handset_panel(self) -> QWidget:
        panel = self._under(
            say(
                "What was set in each handset for its own calibration, and what it displays after: in "
                "oxygen, and back in air (0.19 to 0.23 bar at 1013 mbar, less at altitude in proportion)."
            ),
            None,
        )
        grid = QGridLayout()
        grid.setHorizontalSpacing(BLOCK)
        grid.setVerticalSpacing(CLOSE)
        columns = (
            (say("fraction set"), say("Fraction set"), "%"), (say("pressure set"), say("Pressure set"), "mbar"),
            (say("displayed in oxygen"), say("Displayed in oxygen"), "bar"), (say("displayed in air"),
                say("Displayed in air"), "bar"),
        )  # fmt: skip
        self.handset_fields: dict[int, tuple[DecimalField, ...]] = {}
        for row, reader in enumerate(self._held.readers):
            grid.addWidget(text_label(reader.name, "strong", panel), row, 0)
            fields = tuple(
                DecimalField(say("{name} of {reader}", name=name, reader=reader.name), panel, quantity=quantity)
                for (name, _, _), quantity in zip(columns, HANDSET_QUANTITIES, strict=True)
            )
            for field, before in zip(
                fields, self._held.last_settings.get(reader.reader_id, (None,) * len(fields)), strict=True
            ):
                field.meter.serve("", "")  # what is set in a handset, or shown by it, no meter reads
                field.expect(last=before)
            for column, (field, (_, title, unit)) in enumerate(zip(fields, columns, strict=True), start=1):
                field.editingFinished.connect(self.changed)
                field.asked.connect(self.asked)
                grid.addLayout(with_unit(field, title, unit, panel), row, column)
            self.handset_fields[reader.reader_id] = fields
        grid.setColumnStretch(len(columns) + 1, 1)
        layout = panel.layout()
        assert isinstance(layout, QVBoxLayout)
        layout.addLayout(grid)
        return panel

    def _note_panel(self) -> QWidget:
        self.oxygen_temperature = DecimalField("temperature in oxygen", self, quantity=ROOM_TEMPERATURE)
        if self._held.session is not None:
            self.oxygen_temperature.expect(last=self._held.session.temperature_c)
        self.note_field = QLineEdit(self)
        self.note_field.setAccessibleName(worded("note"))
        self.oxygen_temperature.editingFinished.connect(self.changed)
        self.note_field.editingFinished.connect(self.changed)
        panel = QWidget(self)
        line = QHBoxLayout(panel)
        line.setContentsMargins(0, 0, 0, 0)
        line.setSpacing(BLOCK)
        line.addLayout(with_unit(self.oxygen_temperature, "Temperature in oxygen", CELSIUS, panel))
        line.addLayout(labelled(self.note_field, "Note", panel), 1)
        return panel

    def _under(self, text: str, widget: QWidget | None) -> QWidget:
        panel = QWidget(self)
        layout = QVBoxLayout(panel)
        layout.setContentsMargins(0, CLOSE, 0, 0)
        layout.setSpacing(CLOSE)
        said = text_label(text, "small", panel)
        said.setWordWrap(True)
        layout.addWidget(said)
        if widget is not None:
            layout.addWidget(widget)
        return panel

    @property
    def pots(self) -> tuple[ReadingEntry, ...]:
        """The pot points added so far."""
        return tuple(self._pots)

    def zeros(self) -> tuple[ReadingEntry, ...]:
        """The zero readings given."""
        return tuple(
            ReadingEntry(slot_id=slot, reader_id=reader, point="zero", mv=value)
            for (slot, reader), value in self.zero.figures().items()
            if not self.zero.shows_bar((slot, reader))
        )

    def handsets(self) -> tuple[HandsetEntry, ...]:
        """What was given of the handsets' own calibration; a handset of which nothing was given is left out."""
        found: list[HandsetEntry] = []
        for reader_id, fields in self.handset_fields.items():
            fraction, pressure, oxygen, air = (field.value() for field in fields)
            if any(value is not None for value in (fraction, pressure, oxygen, air)):
                share = None if fraction is None else fraction / 100
                found.append(
                    HandsetEntry(reader_id=reader_id, fraction_set=share, pressure_set_mbar=pressure,
                                 shown_oxygen_bar=oxygen, shown_air_bar=air)
                )  # fmt: skip
        return tuple(found)

    def show_given(
        self,
        figures: Sequence[ReadingEntry],
        handsets: Sequence[HandsetEntry],
        oxygen_temperature_c: float | None,
        note: str | None,
    ) -> None:
        """Show these, with the panels open that hold something."""
        self.zero.show_figures(
            {(each.slot_id, each.reader_id): each.mv for each in figures if each.point == CellPoint.ZERO}
        )
        self._pots = [each for each in figures if each.point == CellPoint.POT]
        self._list_pots()
        for fields in self.handset_fields.values():
            for field in fields:
                field.clear()
        for handset in handsets:
            if handset.reader_id in self.handset_fields:
                values = (handset.fraction_set, handset.pressure_set_mbar, handset.shown_oxygen_bar,
                          handset.shown_air_bar)  # fmt: skip
                shown = (values[0] * 100 if values[0] is not None else None, *values[1:])
                for field, value, decimals in zip(
                    self.handset_fields[handset.reader_id], shown, (1, 0, 2, 2), strict=True
                ):
                    field.show_value(value, decimals)
        self.oxygen_temperature.show_value(oxygen_temperature_c)
        self.note_field.setText(note or "")
        for name, held in (
            ("zero", bool(self.zeros())), ("pot", bool(self._pots)), ("handsets", bool(handsets)),
            ("note", oxygen_temperature_c is not None or bool(note)),
        ):  # fmt: skip
            self.panel_buttons[name].setChecked(held)

    def _list_pots(self) -> None:
        points = sorted({each.pot_bar for each in self._pots if each.pot_bar is not None})
        self._pot_list.setText(
            worded(say("Taken: {value}", value=strung(", ", (f"{point:.2f} bar" for point in points))))
            if points
            else ""
        )

    @Slot(bool)
    def _on_toggled(self, _on: bool) -> None:
        for name, button in self.panel_buttons.items():
            self._panels[name].setVisible(button.isChecked())

    @Slot(int, int)
    def _on_entered(self, _slot_id: int, _reader_id: int) -> None:
        self.changed.emit()

    @Slot()
    def _on_add_pot(self) -> None:
        bar = self.pot_bar.value
        figures = {key: mv for key, mv in self.pot_grid.figures().items() if mv is not None}
        if bar is None or not figures:
            self.refused.emit(
                worded("pot: enter the oxygen partial pressure in the pot and what a handset shows at it")
            )
            return
        self._pots = [each for each in self._pots if each.pot_bar != bar]
        self._pots += [
            ReadingEntry(slot_id=slot, reader_id=reader, point="pot", mv=mv, pot_bar=bar)
            for (slot, reader), mv in figures.items()
            if not self.pot_grid.shows_bar((slot, reader))
        ]
        self.pot_bar.empty()
        self.pot_grid.show_figures({})
        self._list_pots()
        self.pot_bar.setFocus()
        self.changed.emit()

    @Slot()
    def _on_drop_pots(self) -> None:
        self._pots = []
        self._list_pots()
        self.changed.emit()
