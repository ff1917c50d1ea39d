"""A unit that is unfit for what waiting does not mend is unfit on all later days, judged day by day on the sample."""

from datetime import timedelta
from itertools import product

from fleetbench.calc.hires.availability import Span
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.hires.fitness import FitUnits
from fleetbench.workshop.units.fleet import whole_fleet


def test_what_stays_unfit_is_unfit_on_every_later_day(sample_workplace: Workplace) -> None:
    fleet = whole_fleet(sample_workplace)
    with sample_workplace.database.reading() as connection:
        fit = FitUnits(connection, fleet.day, fleet=fleet)
    lasting = 0
    for unit, (start, length) in product(fleet.records.units, product((0, 9, 40), (0, 6))):
        first = fleet.day.today + timedelta(days=start)
        answer = fit.answer(unit.tag, Span(first, first + timedelta(days=length), "asked"))
        if not answer.stays_unfit:
            continue
        lasting += 1
        for later, longer in product((0, 1, 20, 60), (0, 5)):
            moved = Span(first + timedelta(days=later), first + timedelta(days=later + length + longer), "asked")
            assert fit.answer(unit.tag, moved).unfit, f"{unit.tag} was unfit from {first} and is fit on {moved}"
    assert lasting > 10
