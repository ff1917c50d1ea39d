"""The cylinders and batteries that go with a unit, as its page shows them."""

from dataclasses import dataclass
from datetime import date, datetime

from fleetbench.calc.gas import Mixture
from fleetbench.workshop.cylinders import against_words, tests_last, unanalysed_words, unread_words
from fleetbench.workshop.fleet import Fleet
from fleetbench.workshop.ready_gas import GasSide


@dataclass(frozen=True, slots=True)
class UnitCylinder:
    """One cylinder in a unit; figures None are not known.

    said: what is against its gas or missing, empty where nothing is. maximum_depth_m: to limit_bar oxygen.
    density_g_l: of the analysed gas at that depth, dry, at 0 C. clean: its status in words where it needs one.
    """

    slot: str
    part_id: int
    serial: str
    role: str
    bar: float | None
    working_bar: float
    gas: Mixture | None
    analysed_at: datetime | None
    maximum_depth_m: float | None
    limit_bar: float
    density_g_l: float | None
    next_test: date | None
    clean: str | None
    clean_ok: bool | None
    said: tuple[str, ...]


def unit_cylinders(fleet: Fleet, side: GasSide, unit_id: int) -> tuple[UnitCylinder, ...]:
    """Every cylinder in a unit, in order of its slots."""
    found = []
    for seat, state in side.states(unit_id):
        if seat.part is None or seat.fitting is None:
            continue
        part_id, limit = seat.part.part_id, side.book.depth_limit(state.facts.role)[0]
        depth = state.maximum_depth_m(limit)
        needs = side.book.must_be_clean(part_id)
        against = (words for words, _ in against_words(state))
        found.append(
            UnitCylinder(
                slot=seat.slot.name,
                part_id=part_id,
                serial=seat.part.label,
                role=state.facts.role,
                bar=state.now_bar,
                working_bar=state.facts.working_bar,
                gas=state.gas,
                analysed_at=state.analysis.at if state.analysis is not None else None,
                maximum_depth_m=depth,
                limit_bar=limit,
                density_g_l=state.density_g_l(depth),
                next_test=tests_last(fleet.book.last_good_days(seat.part, seat.fitting.fitted_at, unit_id)),
                clean=state.clean.words if needs else None,
                clean_ok=state.clean.clean if needs else None,
                said=tuple(filter(None, (*against, unanalysed_words(state), unread_words(state)))),
            )
        )
    return tuple(found)
