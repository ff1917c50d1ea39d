"""The page of one cell: its drift, its flushes and the life of its kind above the cards."""

from collections.abc import Callable
from dataclasses import dataclass, fields
from datetime import date, datetime
from zoneinfo import ZoneInfo

from PySide6.QtWidgets import QFrame, QVBoxLayout, QWidget

from fleetbench.window.detail.detail import Detail
from fleetbench.window.detail.record_page import RecordPage
from fleetbench.window.shell.pages import PageContext
from fleetbench.workshop.cells.list import CellPage, cell_page


@dataclass(frozen=True, slots=True)
class PlottedDetail(Detail):
    """A Detail with the page of the cell it was made from, and days served in its present place."""

    page: CellPage | None = None
    served: float | None = None


class CellRecord(RecordPage):
    """The record page with a cell's drift below its marks, and its flushes and lives below the cards."""

    def __init__(
        self,
        context: PageContext,
        detail_of: Callable[[CellPage, ZoneInfo, date], Detail],
        parent: QWidget | None = None,
    ) -> None:
        shop, zone = context.shop, context.zone
        self._zone = zone
        self.cards: list[QFrame] = []

        def load(key: str) -> Detail:
            page = cell_page(shop, int(key))
            detail = detail_of(page, zone, shop.today())
            plain = {each.name: getattr(detail, each.name) for each in fields(Detail)}
            return PlottedDetail(**plain, page=page, served=days_served(page, shop.clock()))

        super().__init__(context.theme, context.background, load, parent)

    def _lay_out(self, detail: Detail) -> None:
        super()._lay_out(detail)
        body = self._scroll.widget()
        whole = body.layout() if body is not None else None
        if (
            body is None
            or not isinstance(detail, PlottedDetail)
            or detail.page is None
            or not isinstance(whole, QVBoxLayout)
        ):
            return
        from fleetbench.window.cells.plots import DriftCard, cards_of  # with numpy, which the start does without

        self.cards = cards_of(self.theme, detail.page, self._zone, detail.served, body)
        for place, card in enumerate(self.cards):
            whole.insertWidget(place if isinstance(card, DriftCard) else whole.count() - 1, card)


def days_served(page: CellPage, now: datetime) -> float | None:
    """Days in use in all its fittings until now, None for a cell that was never fitted."""
    if not page.fittings:
        return None
    return sum(((each.removed_at or now) - each.fitted_at).total_seconds() for each in page.fittings) / 86_400.0
