"""Signing a ticket off under the signer's PIN; somebody without one sets it here, once."""

from collections.abc import Callable, Sequence

from PySide6.QtCore import Slot
from PySide6.QtWidgets import QComboBox, QLineEdit, QWidget

from fleetbench.records.errors import Refused
from fleetbench.window.background import Background
from fleetbench.window.buttons import text_label
from fleetbench.window.calibrate_card import with_unit
from fleetbench.window.canister_dialog import ActDialog
from fleetbench.window.theme import GRID, Theme
from fleetbench.workshop.pins import set_pin
from fleetbench.workshop.shop import Shop
from fleetbench.workshop.ticket_desk import Signer
from fleetbench.workshop.ticket_work import sign_ticket

NO_PIN = "This person has no PIN yet. Choose one of 4 to 12 digits; it is kept so that nobody can read it."
HAS_PIN = "The signature closes the ticket; it cannot change afterwards."


class SignDialog(ActDialog):
    """Asks who signs and for the PIN.

    Signals:
        done_with: the hash of the journal entry that holds the signature.
    """

    def __init__(
        self,
        theme: Theme,
        background: Background,
        shop: Shop,
        ticket_id: int,
        number: str,
        signers: Sequence[Signer],
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(theme, background, f"Sign ticket {number}", "Sign", parent)
        self._shop, self._ticket_id = shop, ticket_id
        self._signers = {signer.person_id: signer for signer in signers}
        self.signer = QComboBox(self)
        self.signer.setAccessibleName("signer")
        self.signer.addItem("choose", None)
        for signer in signers:
            self.signer.addItem(signer.name, signer.person_id)
        self.signer.setCurrentIndex(max(self.signer.findData(shop.person_id), 0) if shop.person_id is not None else 0)
        self.pin, self.again = self._pin_field("PIN"), self._pin_field("PIN again")
        self._again = QWidget(self)
        twice = with_unit(self.again, "The same PIN again", "", self._again)
        twice.setContentsMargins(0, 0, 0, 0)
        self._again.setLayout(twice)
        self.body.addWidget(text_label("Signed by", "label", self))
        self.body.addWidget(self.signer)
        self.body.addLayout(with_unit(self.pin, "PIN", "", self))
        self.body.addWidget(self._again)
        self.signer.currentIndexChanged.connect(self._on_signer)
        self.pin.returnPressed.connect(self._on_pin)
        self.again.returnPressed.connect(self.act)
        self._on_signer(self.signer.currentIndex())
        (self.pin if self.chosen is not None else self.signer).setFocus()

    def _pin_field(self, name: str) -> QLineEdit:
        field = QLineEdit(self)
        field.setEchoMode(QLineEdit.EchoMode.Password)
        field.setAccessibleName(name)
        field.setMaxLength(12)
        field.setMaximumWidth(48 * GRID)
        return field

    @property
    def chosen(self) -> Signer | None:
        """Who is chosen to sign."""
        key = self.signer.currentData()
        return self._signers.get(int(key)) if key is not None else None

    def work(self) -> Callable[[], object]:
        """The signature, after the PIN is set where there was none."""
        signer, pin = self.chosen, self.pin.text()
        if signer is None:
            raise Refused("signer: choose who signs")
        if not signer.has_pin and pin != self.again.text():
            raise Refused("PIN: the two entries differ; enter it again")
        shop, ticket_id = self._shop, self._ticket_id

        def sign() -> str:
            if not signer.has_pin:
                set_pin(shop, signer.person_id, pin)
            return sign_ticket(shop, ticket_id, signer_id=signer.person_id, pin=pin)

        return sign

    @Slot(int)
    def _on_signer(self, _index: int) -> None:
        sets_pin = self.chosen is not None and not self.chosen.has_pin
        self._again.setVisible(sets_pin)
        self.note.setText(NO_PIN if sets_pin else HAS_PIN)

    @Slot()
    def _on_pin(self) -> None:
        if self._again.isVisibleTo(self):
            self.again.setFocus()
        else:
            self.act()
