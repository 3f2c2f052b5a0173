"""Gravity, extract and volume of wort.

Mixing, diluting and boiling conserve two things: mass and extract. Both balances stand here once (`mass_and_extract`,
`gravity_of_share`) and every function below is made of them.
"""

from typing import Annotated, Any

from ..catalogue import Above, AtLeast, Between, Fitted, NotAbove, WholeRange, worksheet
from ..units import (
    SLIPS,
    Brix,
    Celsius,
    Ebc,
    Gravity,
    Kilogram,
    Litre,
    Lovibond,
    Number,
    Plato,
    Share,
    convert,
    gravity_of_plato,
    plato_of_gravity,
)
from .numeric import maximum, minimum, only_if
from .water import AS_RHO, WATER_20, density

ANY_SG = Between(0.98, 1.2)  # a fermented beer or a hot reading may lie below water
SG = Between(1.0, 1.2)
ANY_PLATO = Between(convert(ANY_SG.low, "SG", "°P"), convert(ANY_SG.high, "SG", "°P"))
_BALANCE = "conservation of mass and extract; °P by the ASBC table's cubic, kg/L by SG 20/20 °C and Kell 1975"

AS_PLATO = "P(S) as WORT_PLATO"  # what equations mean by it
PLATO_AND_RHO = f"{AS_PLATO}, {AS_RHO}"


def mass_and_extract(volume: Any, gravity: Any) -> tuple[Any, Any]:
    """kg of wort and kg of extract in it."""
    mass = volume * gravity * WATER_20
    return mass, mass * plato_of_gravity(gravity) / 100


def gravity_of_share(extract: Any, mass: Any) -> Any:
    """SG of `mass` kg of wort that holds `extract` kg; no answer past gravity 1.2."""
    return wort_only(gravity_of_plato(100 * extract / mass))


def gravity_of_strength(extract: Any, volume: Any) -> Any:
    """SG of `volume` L of wort that holds `extract` kg: Newton's method on SG times °P."""
    wanted = 100 * extract / (volume * WATER_20)
    gravity = 1 + wanted / 260
    for _ in range(6):
        plato = plato_of_gravity(gravity)
        slope = plato + gravity * (1111.14 + gravity * (-2 * 630.272 + gravity * 3 * 135.997))
        gravity = gravity - (gravity * plato - wanted) / slope
    return wort_only(gravity)


def wort_only(gravity: Any) -> Any:
    """No answer where the scales of gravity and extract end; a hair of rounding past an end is the end itself."""
    inside = (gravity >= SG.low - 1e-12) & (gravity <= SG.high + 1e-12)
    return only_if(inside, minimum(maximum(gravity, SG.low), SG.high))


def boiled(volume: Any, gravity: Any, evaporated: Any) -> tuple[Any, Any]:
    """SG and L after `evaporated` L of water have gone; a negative number puts them back."""
    mass, extract = mass_and_extract(volume, gravity)
    left = only_if(mass > evaporated * WATER_20, mass - evaporated * WATER_20)
    after = gravity_of_share(extract, left)
    return after, left / (after * WATER_20)


@worksheet(
    source="Cubic fit to the ASBC table of extract against specific gravity 20/20 °C",
    equation="P = -616.868 + 1111.14 S - 630.272 S^2 + 135.997 S^3",
)
def wort_plato(gravity: Annotated[Gravity, SG, Fitted(1.0, 1.083), "specific gravity 20/20 °C"]) -> Plato:
    """Degrees Plato, the per cent of extract by mass, of a wort of this gravity.

    Within 0.02 °P of ICUMSA sucrose densities from 2 to 20 °P. The cubic gives -0.003 °P for water.

    >>> wort_plato(1.048)
    11.912
    """
    return plato_of_gravity(gravity)


@worksheet(
    source="Inverse of the cubic fit to the ASBC table, by Newton's method",
    equation="the S that solves P = -616.868 + 1111.14 S - 630.272 S^2 + 135.997 S^3",
)
def wort_gravity(plato: Annotated[Plato, ANY_PLATO, Fitted(0, 20), "degrees Plato"]) -> Gravity:
    """Specific gravity 20/20 °C of a wort of this many degrees Plato; the exact inverse of WORT_PLATO.

    >>> wort_gravity(12)
    1.0484
    """
    return gravity_of_plato(plato)


@worksheet(source=_BALANCE, equation=f"extract = rho20 V S P(S) / 100; {PLATO_AND_RHO}")
def wort_extract(
    volume: Annotated[Litre, AtLeast(0), "wort at 20 °C"],
    gravity: Annotated[Gravity, SG, "its specific gravity"],
) -> Kilogram:
    """Extract dissolved in a wort.

    >>> wort_extract(20, 1.05)
    2.5967
    """
    return maximum(mass_and_extract(volume, gravity)[1], 0.0)  # the cubic's -0.003 °P of water


@worksheet(source=_BALANCE, equation=f"efficiency = (rho20 V S P(S) / 100) / sum(mass_i yield_i); {PLATO_AND_RHO}")
def wort_efficiency(
    malt_masses: Annotated[Kilogram, WholeRange(), AtLeast(0), "each malt as weighed in"],
    malt_yields: Annotated[
        Share, WholeRange(), Between(0, 1), "each malt's extract yield, as share of its mass as it is"
    ],
    volume: Annotated[Litre, AtLeast(0), "wort at 20 °C"],
    gravity: Annotated[Gravity, SG, "its specific gravity"],
) -> Share:
    """Share of the malt's extract that is in the wort.

    Yields are of the malt as it is, moisture included: a laboratory's dry-basis figure times (1 - moisture).

    >>> wort_efficiency([4.0, 0.5], [0.78, 0.74], 24, 1.042)
    0.74929
    """
    available = sum(mass * share for mass, share in zip(malt_masses, malt_yields))
    return maximum(mass_and_extract(volume, gravity)[1], 0.0) / available


@worksheet(
    source=_BALANCE,
    equation=f"the S that solves rho20 V S P(S) / 100 = extract; {PLATO_AND_RHO}",
    no_answer="more extract than a wort of gravity 1.2 holds",
)
def wort_gravity_of_extract(
    extract: Annotated[Kilogram, AtLeast(0), "extract dissolved"],
    volume: Annotated[Litre, Above(0), "wort at 20 °C"],
) -> Gravity:
    """Specific gravity of a wort that holds this much extract; the inverse of WORT_EXTRACT.

    >>> wort_gravity_of_extract(2.6, 20)
    1.0501
    """
    return gravity_of_strength(extract, volume)


@worksheet(
    source=_BALANCE,
    equation=f"the S that solves rho20 V S P(S) / 100 = sum(mass_i yield_i efficiency_i); {PLATO_AND_RHO}",
    no_answer="more extract than a wort of gravity 1.2 holds",
)
def wort_mash_gravity(
    malt_masses: Annotated[Kilogram, WholeRange(), AtLeast(0), "each malt or sugar as weighed in"],
    malt_yields: Annotated[
        Share, WholeRange(), Between(0, 1), "each one's extract yield, as share of its mass as it is"
    ],
    efficiency: Annotated[
        Share,
        WholeRange(one_for_all=True),
        Between(0, 1),
        "share of that extract that reaches the kettle; one, or one a row",
    ],
    volume: Annotated[Litre, Above(0), "wort at 20 °C before the boil"],
) -> Gravity:
    """Specific gravity before the boil that a grain bill gives.

    Sugar added to the kettle is a row with yield and efficiency 1.

    >>> wort_mash_gravity([4.0, 0.5], [0.78, 0.74], 0.75, 24)
    1.0420
    """
    extract = sum(mass * share * reached for mass, share, reached in zip(malt_masses, malt_yields, efficiency))
    return gravity_of_strength(extract, volume)


@worksheet(
    source=_BALANCE, equation=f"P(S) = 100 (E1 + E2) / (m1 + m2), m = rho20 V S, E = m P(S) / 100; {PLATO_AND_RHO}"
)
def wort_blend(
    volume_1: Annotated[Litre, AtLeast(0), "the first wort at 20 °C"],
    gravity_1: Annotated[Gravity, SG, "its specific gravity"],
    volume_2: Annotated[Litre, AtLeast(0), "the second, or water, at 20 °C"],
    gravity_2: Annotated[Gravity, SG, "its specific gravity; water is 1"],
) -> Gravity:
    """Specific gravity of two worts mixed.

    >>> wort_blend(10, 1.080, 10, 1.000)
    1.0402
    """
    mass_1, extract_1 = mass_and_extract(volume_1, gravity_1)
    mass_2, extract_2 = mass_and_extract(volume_2, gravity_2)
    return gravity_of_share(extract_1 + extract_2, mass_1 + mass_2)


@worksheet(
    source=_BALANCE,
    equation=f"P(S_pre) = P(S_post) m / (m + rho20 evaporated), m = rho20 V_post S_post; {PLATO_AND_RHO}",
)
def wort_preboil_gravity(
    post_volume: Annotated[Litre, Above(0), "wort at 20 °C at the end of the boil"],
    post_gravity: Annotated[Gravity, SG, "its specific gravity"],
    evaporated: Annotated[Litre, AtLeast(0), "boiled off, as L of water at 20 °C"],
) -> Gravity:
    """Specific gravity before the boil of a wort that ends as stated.

    >>> wort_preboil_gravity(21, 1.050, 4.5)
    1.0412
    """
    return boiled(post_volume, post_gravity, -evaporated)[0]


@worksheet(
    source=_BALANCE,
    equation="V_pre = (m + rho20 evaporated) / (rho20 S_pre), P(S_pre) = P(S_post) m / (m + rho20 evaporated); "
    f"{PLATO_AND_RHO}",
)
def wort_preboil_volume(
    post_volume: Annotated[Litre, Above(0), "wort at 20 °C at the end of the boil"],
    post_gravity: Annotated[Gravity, SG, "its specific gravity"],
    evaporated: Annotated[Litre, AtLeast(0), "boiled off, as L of water at 20 °C"],
) -> Litre:
    """Volume at 20 °C before the boil of a wort that ends as stated.

    >>> wort_preboil_volume(21, 1.050, 4.5)
    25.499
    """
    return boiled(post_volume, post_gravity, -evaporated)[1]


_DRY = "the wort would boil dry, or past gravity 1.2"


@worksheet(
    source=_BALANCE,
    equation=f"P(S_post) = P(S_pre) m / (m - rho20 evaporated), m = rho20 V_pre S_pre; {PLATO_AND_RHO}",
    no_answer=_DRY,
)
def wort_postboil_gravity(
    pre_volume: Annotated[Litre, Above(0), "wort at 20 °C before the boil"],
    pre_gravity: Annotated[Gravity, SG, "its specific gravity"],
    evaporated: Annotated[Litre, AtLeast(0), "boiled off, as L of water at 20 °C"],
) -> Gravity:
    """Specific gravity after the boil.

    >>> wort_postboil_gravity(25.5, 1.0412, 4.5)
    1.0500
    """
    return boiled(pre_volume, pre_gravity, evaporated)[0]


@worksheet(
    source=_BALANCE,
    equation="V_post = (m - rho20 evaporated) / (rho20 S_post), P(S_post) = P(S_pre) m / (m - rho20 evaporated); "
    f"{PLATO_AND_RHO}",
    no_answer=_DRY,
)
def wort_postboil_volume(
    pre_volume: Annotated[Litre, Above(0), "wort at 20 °C before the boil"],
    pre_gravity: Annotated[Gravity, SG, "its specific gravity"],
    evaporated: Annotated[Litre, AtLeast(0), "boiled off, as L of water at 20 °C"],
) -> Litre:
    """Volume at 20 °C after the boil.

    >>> wort_postboil_volume(25.5, 1.0412, 4.5)
    21.001
    """
    return boiled(pre_volume, pre_gravity, evaporated)[1]


@worksheet(
    source=_BALANCE,
    equation=f"water = (m P(S) / P(target) - m) / rho20, m = rho20 V S; {PLATO_AND_RHO}",
    relations=[NotAbove("target", "gravity")],
    no_answer="no amount of water brings a wort down to the gravity of water",
)
def wort_water_to_add(
    volume: Annotated[Litre, AtLeast(0), "wort at 20 °C"],
    gravity: Annotated[Gravity, SG, "its specific gravity"],
    target: Annotated[Gravity, Above(1.0, 1.2), "specific gravity wanted"],
) -> Litre:
    """Water at 20 °C that brings a wort down to a target gravity.

    >>> wort_water_to_add(20, 1.055, 1.050)
    2.0131
    """
    mass, extract = mass_and_extract(volume, gravity)
    share = plato_of_gravity(target) / 100
    return only_if(share > 0, maximum(extract / share - mass, 0.0)) / WATER_20


@worksheet(
    source=_BALANCE,
    equation=f"added = m (P(target) - P(S)) / (100 purity - P(target)), m = rho20 V S; {PLATO_AND_RHO}",
    relations=[NotAbove("gravity", "target")],
    no_answer="an extract as weak as that can't bring the wort up to the target",
)
def wort_extract_to_add(
    volume: Annotated[Litre, AtLeast(0), "wort at 20 °C"],
    gravity: Annotated[Gravity, SG, "its specific gravity"],
    target: Annotated[Gravity, SG, "specific gravity wanted"],
    purity: Annotated[
        Share, Above(0, 1), "share of the addition that is extract; dry extract and sugar are near 1"
    ] = 1.0,
) -> Kilogram:
    """Dry extract or sugar that brings a wort up to a target gravity; the volume grows with it.

    >>> wort_extract_to_add(20, 1.045, 1.050)
    0.28383
    """
    mass, extract = mass_and_extract(volume, gravity)
    share = plato_of_gravity(target) / 100
    return only_if(purity > share, maximum(share * mass - extract, 0.0)) / (purity - share)


@worksheet(
    source="Density of water: Kell 1975, J. Chem. Eng. Data 20:97",
    equation="V2 = V1 rho(T1) / rho(T2), rho as WATER_DENSITY",
)
def wort_volume_at(
    volume: Annotated[Litre, AtLeast(0), "volume as read"],
    from_temp: Annotated[Celsius, Between(0, 100), "temperature at the reading"],
    to_temp: Annotated[Celsius, Between(0, 100), "temperature to carry it to"],
) -> Litre:
    """Volume of the same wort at another temperature; hot wort fills 4 % more at the boil than at 20 °C.

    Taken as water: 12 to 15 °P differ by 0.0002 of the volume at 95 °C, 0.0008 at 60 °C, 0.001 at 5 °C (ICUMSA).

    >>> wort_volume_at(25.5, 20, 100)
    26.561
    """
    return volume * density(from_temp) / density(to_temp)


CALIBRATION = Between(0, 40)  # 60 °F written as 60 is refused
GLASS = 25e-6  # cubic expansion of soda-lime glass per K, as commonly quoted


@worksheet(
    source="Ratio of water densities (Kell 1975) and cubic expansion of soda-lime glass 25e-6 /K, as commonly quoted",
    equation="S = reading rho(calibration) / rho(T) / (1 + 25e-6 (T - calibration)), rho as WATER_DENSITY",
)
def wort_hydrometer(
    reading: Annotated[Gravity, ANY_SG, "specific gravity as read"],
    temp: Annotated[Celsius, Between(0, 60), "temperature of the sample"],
    calibration: Annotated[Celsius, CALIBRATION, "temperature the hydrometer is made for"] = 20.0,
) -> Gravity:
    """Specific gravity at 20 °C from a hydrometer read in a sample at another temperature.

    Taken to expand as water does; sugar expands more. In a 12 °P wort the answer is 0.0006 high at 10 °C, 0.0004 low at
    30 °C and 0.0007 low at 60 °C (ICUMSA). Refused above 60 °C: cool the sample.

    >>> wort_hydrometer(1.045, 35)
    1.0490
    """
    return reading * density(calibration) / density(temp) / (1 + GLASS * (temp - calibration))


SLIPS["refractometer reading", "gravity"] = "WORT_REFRACTOMETER gives the gravity"


@worksheet(
    source="Definition of the wort correction factor; 1.04 is common practice, no source",
    equation=f"P(S) = Brix / factor; {AS_PLATO}",
)
def wort_refractometer(
    brix: Annotated[Brix, Between(0, 45), "refractometer reading"],
    factor: Annotated[Number, Between(0.9, 1.2), "the instrument's wort correction factor"] = 1.04,
) -> Gravity:
    """Specific gravity of an unfermented wort from a refractometer.

    The factor is the instrument's own, 1.00 to 1.06: find it by reading one wort with a hydrometer too.

    >>> wort_refractometer(12.5)
    1.0485
    """
    return wort_only(gravity_of_plato(brix / factor))


@worksheet(
    source="Morey, SRM = 1.4922 MCU^0.6859, as commonly quoted; original not consulted; EBC = SRM 25/12.7",
    equation="SRM = 1.4922 MCU^0.6859, MCU = sum(lb_i degL_i) / gal, EBC = 25 / 12.7 SRM",
)
def wort_color(
    malt_masses: Annotated[Kilogram, WholeRange(), AtLeast(0), "each malt as weighed in"],
    malt_colors: Annotated[Lovibond, WholeRange(), AtLeast(0), "each malt's colour"],
    volume: Annotated[Litre, Above(0), "wort at 20 °C"],
) -> Ebc:
    """Colour of the wort from the malts' colours.

    A fit for worts up to some 100 EBC (50 SRM); expect a fifth either way.

    >>> wort_color([4.0, 0.5], [2.5, 40], 21)
    16.078
    """
    units = sum(mass * color for mass, color in zip(malt_masses, malt_colors)) * _MCU / volume
    return 1.4922 * units**0.6859 * 25 / 12.7


_MCU = convert(1, "kg", "lb") * convert(1, "gal", "L")  # malt colour units are lb °L/gal
