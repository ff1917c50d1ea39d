"""Words on cylinders that stand in several places: gas, depth, cautions."""

from fleetbench.calc.core.languages import say, strung
from fleetbench.calc.core.measures import BAR, METRE
from fleetbench.calc.gas.depth import DENSITY_ADVISED_G_L, DENSITY_MOST_G_L, depth_limit
from fleetbench.calc.gas.real import Mixture
from fleetbench.window.look.words import NONE
from fleetbench.workshop.gas.list import CylinderLine
from fleetbench.workshop.gas.state import GasDepths

OXYGEN_CAUTION = say(
    "Oxygen: open valves slowly, clean hands and tools, trained people only; local law and "
    "the maker's manual stand above this."
)
"""Common practice, no published source."""

CONTENT_METHOD = say("real gas, multi-fluid Helmholtz model in the form of GERG-2008; litres at 15 °C and 1.01325 bar")
DENSITY_CONVENTION = say("dry gas at 0 °C; advised up to 5.2 g/L, at most 6.2 g/L (from memory)")
DEPTH_METHOD = say("oxygen at the upper end of the analysis, rounded down, 10 m of sea water a bar")


def gas_words(gas: Mixture | None, missing: str = NONE) -> str:
    """'O2 32.0 %' or 'O2 18.0 %, He 45.0 %'."""
    if gas is None:
        return missing
    helium = f", He {100 * gas.helium:.1f} %" if gas.helium > 0.0 else ""
    return f"O2 {100 * gas.oxygen:.1f} %{helium}"


def gas_in_short(gas: Mixture | None) -> str:
    """'21.0' or '18.0 / 45.0', oxygen and helium in percent as the trade writes them."""
    if gas is None:
        return say("not analysed")
    return f"{100 * gas.oxygen:.1f}" + (f" / {100 * gas.helium:.1f}" if gas.helium > 0.0 else "")


def bar_words(line: CylinderLine) -> str:
    """The pressure in it now, without its unit, or that it was used since."""
    if line.state.now_bar is not None:
        return BAR.number(line.state.now_bar, 0)
    return NONE if line.state.bar is None else "used"


def metres(depth: float | None, missing: str = NONE) -> str:
    """A maximum operating depth in whole metres, rounded down."""
    return missing if depth is None else METRE.whole(depth)


def depth_words(depths: GasDepths, missing: str = NONE) -> str:
    """'30 m (5.2 g/L); oxygen 46 m (1.2 bar)': the smaller depth first, each with what limits it; as it prints."""
    limit = depth_limit(depths.maximum_depth_m, depths.dense_at_m[0])
    if limit is None:
        return missing
    by_oxygen = say(
        "{maximum_depth_m} ({limit_bar:g} bar)",
        maximum_depth_m=metres(depths.maximum_depth_m),
        limit_bar=depths.limit_bar,
    )
    if not limit.by_density:
        return by_oxygen
    return say(
        "{depth_m} ({density_advised_g_l:g} g/L); oxygen {by_oxygen}",
        depth_m=metres(limit.depth_m),
        density_advised_g_l=DENSITY_ADVISED_G_L,
        by_oxygen=by_oxygen,
    )


def least_depth_m(depths: GasDepths) -> float | None:
    """The smaller of both depths, m; None not known."""
    limit = depth_limit(depths.maximum_depth_m, depths.dense_at_m[0])
    return limit.depth_m if limit is not None else None


def density_depths(depths: tuple[float | None, float | None], missing: str = NONE) -> str:
    """'30 m at 5.2 g/L, 38 m at 6.2 g/L', in whole metres, rounded down."""
    advised, most = depths
    if advised is None or most is None:
        return missing
    limits = ((advised, DENSITY_ADVISED_G_L), (most, DENSITY_MOST_G_L))
    return strung(", ", (say("{depth} at {limit:g} g/L", depth=metres(depth), limit=limit) for depth, limit in limits))


def pressure_words(line: CylinderLine) -> str:
    """What is known to be in it: '186 bar', 'used since 186 bar', or nothing."""
    if line.state.now_bar is not None:
        return BAR.words(line.state.now_bar, 0)
    return NONE if line.state.bar is None else say("used since {bar}", bar=BAR.words(line.state.bar, 0))


def whereabouts(line: CylinderLine) -> str:
    """The unit it is in, else the place where it lies."""
    return line.unit or line.state.facts.place or NONE
