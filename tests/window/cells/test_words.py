"""What stands bold beside a verdict is its reason."""

from fleetbench.calc.cells.judge import Answer, CalibrationInput, CellReadings, Conditions, Gas, HeadState, judge
from fleetbench.window.cells.words import ground_words, linearity_words, row_end_words


def test_the_figure_beside_a_verdict_is_the_one_that_it_rests_on() -> None:
    room = Conditions(pressure_mbar=1013.0, pressure_u_mbar=0.5, temperature_c=20.0, humidity=0.5)
    readings = tuple(
        CellReadings(cell=f"cell {place}", reader="handset 1", air_mv=air, oxygen_mv=oxygen, settled=Answer.YES)
        for place, (air, oxygen) in enumerate(((7.0, 33.5), (10.4, 49.9), (10.4, 46.0)), 1)
    )
    outcome = judge(
        CalibrationInput(
            conditions=room, gas=Gas(oxygen_fraction=0.997, oxygen_fraction_u=0.0025), readings=readings,
            equipment_in_date=True, vented=Answer.YES, over_pressure_mbar=0.0, head=HeadState.DRY,
        )
    )  # fmt: skip
    weak, sound, bent = outcome.cells
    assert weak.verdict == "reject" and "mV" in ground_words(weak) and "%" not in ground_words(weak)
    assert row_end_words(weak).startswith("mv out of limits")
    assert linearity_words(sound) in ground_words(sound) and row_end_words(sound) == linearity_words(sound)
    assert bent.verdict == "reject" and linearity_words(bent) in ground_words(bent)
