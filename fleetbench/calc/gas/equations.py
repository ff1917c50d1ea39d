"""Published equations of state of oxygen, nitrogen and helium as data, and the parameters that mix them.

Each residual Helmholtz energy is a sum of rows over reduced density d = rho/rho_r and inverse reduced temperature
t = T_r/T. A power row is n * d**i * t**j, times exp(-d**l) where l is not 0. A Gaussian row is
n * d**i * t**j * exp(-eta*(d-epsilon)**2 - beta*(t-gamma)**2).

Sources: oxygen, Schmidt and Wagner, Fluid Phase Equilibria 19 (1985) 175-200; nitrogen, Span et al., J. Phys. Chem.
Ref. Data 29 (2000) 1361-1433; helium, Ortiz-Vega et al., National Institute of Standards and Technology, 2020;
mixing, GERG-2008, Kunz and Wagner, J. Chem. Eng. Data 57 (2012) 3032-3091. The figures are as the open library CoolProp
8.0 prints them; the papers themselves were not read.
"""

from dataclasses import dataclass

PowerRow = tuple[float, int, float, int]
GaussianRow = tuple[float, int, float, float, float, float, float]


@dataclass(frozen=True, slots=True)
class EquationOfState:
    """One pure gas: reducing temperature in K, reducing density in mol/L, molar mass in g/mol, and its rows.

    power: rows (n, i, j, l). gaussian: rows (n, i, j, eta, epsilon, beta, gamma).
    """

    name: str
    temperature_k: float
    density_mol_l: float
    molar_mass_g_mol: float
    power: tuple[PowerRow, ...]
    gaussian: tuple[GaussianRow, ...] = ()


OXYGEN = EquationOfState(
    "oxygen",
    temperature_k=154.581,
    density_mol_l=13.63,
    molar_mass_g_mol=31.9988,
    power=(
        (0.3983768749, 1, 0.0, 0),
        (-1.846157454, 1, 1.5, 0),
        (0.4183473197, 1, 2.5, 0),
        (0.02370620711, 2, -0.5, 0),
        (0.09771730573, 2, 1.5, 0),
        (0.03017891294, 2, 2.0, 0),
        (0.02273353212, 3, 0.0, 0),
        (0.01357254086, 3, 1.0, 0),
        (-0.04052698943, 3, 2.5, 0),
        (0.0005454628515, 6, 0.0, 0),
        (0.0005113182277, 7, 2.0, 0),
        (2.953466883e-07, 7, 5.0, 0),
        (-8.687645072e-05, 8, 2.0, 0),
        (-0.2127082589, 1, 5.0, 2),
        (0.08735941958, 1, 6.0, 2),
        (0.127550919, 2, 3.5, 2),
        (-0.09067701064, 2, 5.5, 2),
        (-0.03540084206, 3, 3.0, 2),
        (-0.03623278059, 3, 7.0, 2),
        (0.0132769929, 5, 6.0, 2),
        (-0.0003254111865, 6, 8.5, 2),
        (-0.008313582932, 7, 4.0, 2),
        (0.002124570559, 8, 6.5, 2),
        (-0.0008325206232, 10, 5.5, 2),
        (-2.626173276e-05, 2, 22.0, 4),
        (0.002599581482, 3, 11.0, 4),
        (0.009984649663, 3, 18.0, 4),
        (0.002199923153, 4, 11.0, 4),
        (-0.02591350486, 4, 23.0, 4),
        (-0.1259630848, 5, 17.0, 4),
        (0.1478355637, 5, 18.0, 4),
        (-0.01011251078, 5, 23.0, 4),
    ),
)

NITROGEN = EquationOfState(
    "nitrogen",
    temperature_k=126.192,
    density_mol_l=11.183901465,
    molar_mass_g_mol=28.01348,
    power=(
        (0.924803575275, 1, 0.25, 0),
        (-0.492448489428, 1, 0.875, 0),
        (0.661883336938, 2, 0.5, 0),
        (-1.92902649201, 2, 0.875, 0),
        (-0.0622469309629, 3, 0.375, 0),
        (0.349943957581, 3, 0.75, 0),
        (0.564857472498, 1, 0.5, 1),
        (-1.61720005987, 1, 0.75, 1),
        (-0.481395031883, 1, 2.0, 1),
        (0.421150636384, 3, 1.25, 1),
        (-0.0161962230825, 3, 3.5, 1),
        (0.172100994165, 4, 1.0, 1),
        (0.00735448924933, 6, 0.5, 1),
        (0.0168077305479, 6, 3.0, 1),
        (-0.00107626664179, 7, 0.0, 1),
        (-0.0137318088513, 7, 2.75, 1),
        (0.000635466899859, 8, 0.75, 1),
        (0.00304432279419, 8, 2.5, 1),
        (-0.0435762336045, 1, 4.0, 2),
        (-0.0723174889316, 2, 6.0, 2),
        (0.0389644315272, 3, 6.0, 2),
        (-0.021220136391, 4, 3.0, 2),
        (0.00408822981509, 5, 3.0, 2),
        (-5.51990017984e-05, 8, 6.0, 2),
        (-0.0462016716479, 4, 16.0, 3),
        (-0.00300311716011, 5, 11.0, 3),
        (0.0368825891208, 5, 15.0, 3),
        (-0.0025585684622, 8, 12.0, 3),
        (0.00896915264558, 3, 12.0, 4),
        (-0.0044151337035, 5, 7.0, 4),
        (0.00133722924858, 6, 4.0, 4),
        (0.000264832491957, 9, 16.0, 4),
    ),
    gaussian=(
        (19.6688194015, 1, 0.0, 20.0, 1.0, 325.0, 1.16),
        (-20.911560073, 1, 1.0, 20.0, 1.0, 325.0, 1.16),
        (0.0167788306989, 3, 2.0, 15.0, 1.0, 300.0, 1.13),
        (2627.67566274, 2, 3.0, 25.0, 1.0, 275.0, 1.25),
    ),
)

HELIUM = EquationOfState(
    "helium",
    temperature_k=5.1953,
    density_mol_l=17.3837,
    molar_mass_g_mol=4.002602,
    power=(
        (0.015559018, 4, 1.0, 0),
        (3.0638932, 1, 0.425, 0),
        (-4.2420844, 1, 0.63, 0),
        (0.054418088, 2, 0.69, 0),
        (-0.18971904, 2, 1.83, 0),
        (0.087856262, 3, 0.575, 0),
        (2.2833566, 1, 0.925, 1),
        (-0.53331595, 1, 1.585, 2),
        (-0.53296502, 3, 1.69, 2),
        (0.99444915, 2, 1.51, 1),
        (-0.30078896, 2, 2.9, 2),
        (-1.6432563, 1, 0.8, 1),
    ),
    gaussian=(
        (0.8029102, 2, 1.26, 1.5497, 0.596, 0.2471, 3.15),
        (0.026838669, 1, 3.51, 9.245, 0.3423, 0.0983, 2.54505),
        (0.04687678, 2, 2.785, 4.76323, 0.761, 0.1556, 1.2513),
        (-0.14832766, 1, 1.0, 6.3826, 0.9747, 2.6782, 1.9416),
        (0.03016211, 1, 4.22, 8.7023, 0.5868, 2.7077, 0.5984),
        (-0.019986041, 3, 0.83, 0.255, 0.5627, 0.6621, 2.2282),
        (0.14283514, 2, 1.575, 0.3523, 2.5346, 0.1775, 1.606),
        (0.007418269, 2, 3.447, 0.1492, 3.6763, 0.4821, 3.815),
        (-0.22989793, 3, 0.73, 0.05, 4.5245, 0.3069, 1.61958),
        (0.79224829, 2, 1.634, 0.1668, 5.039, 0.1758, 0.6407),
        (-0.049386338, 2, 6.13, 42.2358, 0.959, 1357.6577, 1.076),
    ),
)

# Ordered as the fractions are given everywhere: oxygen, helium, nitrogen.
GASES = (OXYGEN, HELIUM, NITROGEN)


@dataclass(frozen=True, slots=True)
class MixingRule:
    """GERG-2008 reducing parameters of an ordered pair of gases, given by their places in GASES."""

    first: int
    second: int
    beta_v: float
    gamma_v: float
    beta_t: float
    gamma_t: float


MIXING_RULES = (
    MixingRule(0, 1, 1.0, 1.0, 1.0, 1.0),
    MixingRule(0, 2, 1.0004784588, 0.997082328, 1.002817326, 0.995157044),
    MixingRule(1, 2, 1.0314583928, 0.932629867, 1.4432747593, 1.47183158),
)
