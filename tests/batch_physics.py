"""The physics of a batch in plain Python, written from the published formulas and from nothing else.

No line of brewfuncs runs here, and no formula of the sheets was looked at for it: where the two agree, two people have
got the same answer. It is slow and simple on purpose: bisection and fixed steps where brewfuncs has closed forms.
Units: L at 20 °C, kg, g, °C, min, specific gravity 20/20 °C, °P, mg/L, µg/L, kWh, vol.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable

# -- water and wort --------------------------------------------------------------------------------------------------


def water_density(t: float) -> float:
    """kg/L: Kell 1975, J. Chem. Eng. Data 20:97."""
    numerator = (
        999.83952
        + 16.952577 * t
        - 7.9905127e-3 * t**2
        - 46.241757e-6 * t**3
        + 105.84601e-9 * t**4
        - 281.03006e-12 * t**5
    )
    return numerator / (1 + 16.887236e-3 * t) / 1000


RHO = water_density(20)


def plato(gravity: float) -> float:
    """The cubic fitted to the ASBC table."""
    return -616.868 + 1111.14 * gravity - 630.272 * gravity**2 + 135.997 * gravity**3


def gravity_of(degrees: float) -> float:
    return bisected(lambda gravity: plato(gravity) - degrees, 0.9, 1.4)


def bisected(function: Callable[[float], float], low: float, high: float, halvings: int = 100) -> float:
    """Where a rising function is 0."""
    for _ in range(halvings):
        middle = (low + high) / 2
        low, high = (low, middle) if function(middle) > 0 else (middle, high)
    return (low + high) / 2


def mass(volume: float, gravity: float) -> float:
    return volume * gravity * RHO


def extract(volume: float, gravity: float) -> float:
    return mass(volume, gravity) * plato(gravity) / 100


def of_masses(all_of_it: float, extract_in_it: float) -> tuple[float, float]:
    """Volume and gravity of a wort of this mass that holds this much extract."""
    gravity = gravity_of(100 * extract_in_it / all_of_it)
    return all_of_it / RHO / gravity, gravity


def with_water(volume: float, gravity: float, water: float) -> tuple[float, float]:
    """Volume and gravity after water is added, or (below 0) boiled off: mass and extract are conserved."""
    return of_masses(mass(volume, gravity) + water * RHO, extract(volume, gravity))


def gravity_of_extract(kilograms: float, volume: float) -> float:
    return bisected(lambda gravity: extract(volume, gravity) - kilograms, 0.9, 1.4)


def water_down_to(volume: float, gravity: float, target: float) -> float:
    """L of water: the extract makes a wort of the target's °P."""
    return (100 * extract(volume, gravity) / plato(target) - mass(volume, gravity)) / RHO


def extract_up_to(volume: float, gravity: float, target: float) -> float:
    """kg of pure extract x: (E + x) / (m + x) is the target's share."""
    share = plato(target) / 100
    return (share * mass(volume, gravity) - extract(volume, gravity)) / (1 - share)


def at_temperature(volume: float, here: float, there: float) -> float:
    return volume * water_density(here) / water_density(there)


def hydrometer(reading: float, t: float, made_for: float = 20) -> float:
    """Buoyancy of water at both temperatures; soda-lime glass expands by 25e-6 a kelvin."""
    return reading * water_density(made_for) / water_density(t) / (1 + 25e-6 * (t - made_for))


def refractometer(brix: float, factor: float) -> float:
    return gravity_of(brix / factor)


def color(malts: Iterable[tuple[float, float]], volume: float) -> float:
    """EBC of malts (kg, °L): Morey's power of malt colour units; SRM is 12.7, EBC 25 times the absorbance."""
    units = sum(kilograms / 0.45359237 * lovibond for kilograms, lovibond in malts) / (volume / 3.785411784)
    return 25 / 12.7 * 1.4922 * units**0.6859 if units else 0.0


# -- boil ------------------------------------------------------------------------------------------------------------

#: IAPWS-IF97, region 4
_N = (1167.0521452767, -724213.16703206, -17.073846940092, 12020.824702470, -3232555.0322333, 14.915108613530,
      -4823.2657361591, 405113.40542057, -0.23855557567849, 650.17534844798)  # fmt: skip


def saturation(t: float) -> float:
    """kPa of steam over water at t °C."""
    kelvin = t + 273.15
    theta = kelvin + _N[8] / (kelvin - _N[9])
    a = theta**2 + _N[0] * theta + _N[1]
    b = _N[2] * theta**2 + _N[3] * theta + _N[4]
    c = _N[5] * theta**2 + _N[6] * theta + _N[7]
    return 1000 * (2 * c / (-b + math.sqrt(b * b - 4 * a * c))) ** 4


def boiling_point(metres: float) -> float:
    """Water's, in the standard atmosphere."""
    return bisected(lambda t: saturation(t) - air_pressure(metres), 50, 120)


def air_pressure(metres: float) -> float:
    """kPa, of the standard atmosphere: ISO 2533."""
    height = 6356766 * metres / (6356766 + metres)
    return 101.325 * (1 - 0.0065 * height / 288.15) ** 5.25588


def heat_of_evaporation(t: float) -> float:
    """kJ/kg, fitted to steam tables from 0 to 130 °C."""
    return 2500.97 - 2.38120 * t + 7.0001e-4 * t**2 - 1.34096e-5 * t**3


def heating(volume: float, here: float, there: float) -> float:
    return volume * RHO * 4.19 * (there - here) / 3600


def evaporating(volume: float) -> float:
    return volume * RHO * heat_of_evaporation(boiling_point(0)) / 3600


def strike_temp(target: float, grain: float, ratio: float) -> float:
    """A kilogram of grain holds 0.4 times the heat of one of water."""
    return target + 0.4 / ratio * (target - grain)


def lautered(
    whole_extract: float, grain: float, water: float, sparge: float, batches: int, held: float, left: float
) -> float | None:
    """Share of the extract that is run off: all of it dissolved in the mash water, then the rest diluted by each batch
    of sparge water in turn; what the grain holds, and what is left behind, is wort. None where nothing runs off."""
    stays = grain * held + left
    if water <= stays:
        return None
    everything = water * RHO + whole_extract
    volume, _ = of_masses(everything, whole_extract)
    out = (water - stays) / volume  # as much wort as water beyond what stays
    in_mash, gained = whole_extract * (1 - out), whole_extract * out
    mass_in_mash = everything * (1 - out)
    for _ in range(batches if sparge else 0):
        mass_in_mash += sparge / batches * RHO
        volume, _ = of_masses(mass_in_mash, in_mash)
        out = sparge / batches / volume
        mass_in_mash, gained, in_mash = mass_in_mash * (1 - out), gained + in_mash * out, in_mash * (1 - out)
    return gained / whole_extract


def pasteur_units(minutes: float, t: float) -> float:
    return minutes * 1.393 ** (t - 60)


# -- hops ------------------------------------------------------------------------------------------------------------

_RAGER = ((5, 5.0), (10, 6.0), (15, 8.0), (20, 10.1), (25, 12.1), (30, 15.3), (35, 18.8), (40, 22.8), (45, 26.9),
          (50, 28.1))  # fmt: skip


def isomerisation(t: float) -> tuple[float, float]:
    """Per minute: of alpha acid to iso-alpha acid, and of that to what isn't bitter. Malowicki & Shellhammer 2005."""
    kelvin = t + 273.15
    return 7.9e11 * math.exp(-11858 / kelvin), 4.1e12 * math.exp(-12994 / kelvin)


def isomerised(minutes: float, t: float) -> float:
    """Share of the alpha acid that is iso-alpha acid after a time at one temperature."""
    k1, k2 = isomerisation(t)
    return k1 / (k2 - k1) * (math.exp(-k1 * minutes) - math.exp(-k2 * minutes))


def utilization(method: str, minutes: float, gravity: float, boil: float) -> float:
    if method == "tinseth":
        return float(1.65 * 0.000125 ** (gravity - 1) * (1 - math.exp(-0.04 * minutes)) / 4.15)
    if method == "kinetic":
        return 0.5 * isomerised(minutes, boil)  # half of it reaches the beer
    if method == "rager smooth":
        share = 18.11 + 13.86 * math.tanh((minutes - 31.32) / 18.27)
    else:  # classes of whole minutes; what lies between two is counted to the later
        share = next((share for last, share in _RAGER if minutes <= last), 30.0)
    return share / 100 / (1 + max(0, gravity - 1.050) / 0.2)


def bitterness(grams: float, alpha: float, used: float, volume: float) -> float:
    return 1000 * grams * alpha * used / volume


# -- from the end of the boil to the fermenter -------------------------------------------------------------------------


class HotSide:
    """The wort after the boil: it nears the cooling water by Newton's law, and is held once on its way down."""

    STEPS = 200  # of a stretch, by Runge and Kutta's fourth order

    def __init__(
        self, boil: float, coolant: float, constant: float, minutes: float, stand: float = 0.0,
        stand_temp: float | None = None,
    ) -> None:  # fmt: skip
        """`minutes` of cooling, without those of the stand."""
        self.boil, self.coolant, self.constant, self.minutes, self.stand = boil, coolant, constant, minutes, stand
        self.stand_temp = boil if stand_temp is None else stand_temp
        self._known: dict[tuple[float, float], tuple[float, float]] = {}

    def until(self, t: float) -> float:
        """Minutes of cooling until it is as cold as t; never, where the water is no colder."""
        if self.boil <= t:
            return 0.0
        if self.coolant >= t or self.constant == 0:
            return math.inf
        return math.log((self.boil - self.coolant) / (t - self.coolant)) / self.constant

    def stretches(self) -> list[tuple[float, float, float]]:
        """Minutes, temperature at their start, cooling constant."""
        first = min(self.minutes, self.until(self.stand_temp)) if self.stand else 0.0
        held = self.stand_temp if self.stand else self.boil
        return [(first, self.boil, self.constant), (self.stand, held, 0.0), (self.minutes - first, held, self.constant)]

    def run(self, state: list[float], rates: Callable[[list[float], float, bool], list[float]]) -> list[float]:
        """What becomes of amounts whose rates follow from them, the temperature and whether it is the stand."""
        for stretch, (minutes, start, constant) in enumerate(self.stretches()):
            if minutes <= 0:
                continue
            step = minutes / self.STEPS

            def slope(
                now: list[float], t: float, start: float = start, k: float = constant, n: int = stretch
            ) -> list[float]:
                temperature = self.coolant + (start - self.coolant) * math.exp(-k * t) if k else start
                return rates(now, temperature, n == 1)

            for n in range(self.STEPS):
                t = n * step
                one = slope(state, t)
                two = slope([x + step / 2 * d for x, d in zip(state, one, strict=True)], t + step / 2)
                three = slope([x + step / 2 * d for x, d in zip(state, two, strict=True)], t + step / 2)
                four = slope([x + step * d for x, d in zip(state, three, strict=True)], t + step)
                state = [
                    x + step / 6 * (a + 2 * b + 2 * c + d)
                    for x, a, b, c, d in zip(state, one, two, three, four, strict=True)
                ]
        return state

    def equivalent_minutes(self) -> float:
        """Minutes of boiling in which as much alpha acid isomerises."""
        return self.run([0.0], lambda _, t, held: [isomerisation(t)[0]])[0] / isomerisation(self.boil)[0]

    def isomerised(self, boiled: float) -> float:
        """Share of the alpha acid that is iso-alpha acid in the end, of an addition that boiled so long."""
        k1, k2 = isomerisation(self.boil)
        alpha, iso = math.exp(-k1 * boiled), k1 / (k2 - k1) * (math.exp(-k1 * boiled) - math.exp(-k2 * boiled))

        def rates(state: list[float], t: float, _: bool) -> list[float]:
            k1, k2 = isomerisation(t)
            return [-k1 * state[0], k1 * state[0] - k2 * state[1]]

        return self.run([alpha, iso], rates)[1]

    def dms(
        self, precursor: float, boiled: float, evaporation: float, volatility: float, half_life: float,
        stand_evaporation: float = 0.0,
    ) -> float:  # fmt: skip
        """Free DMS at pitching, µg/L: made and driven off in the boil; then made, and driven off from an open stand."""
        k, v = precursor_decay(self.boil, half_life), volatility * evaporation / 60
        left = precursor * math.exp(-k * boiled)
        free = k * precursor / (v - k) * (math.exp(-k * boiled) - math.exp(-v * boiled))
        made, kept = self._afterwards(half_life, volatility * stand_evaporation / 60)
        return left * made + free * kept

    def _afterwards(self, half_life: float, leaving: float) -> tuple[float, float]:
        """DMS in the end of 1 of precursor, and of 1 of DMS, at the end of the boil; worked out once."""
        if (half_life, leaving) not in self._known:

            def rates(state: list[float], t: float, held: bool) -> list[float]:
                k = precursor_decay(t, half_life)
                return [-k * state[0], k * state[0] - (leaving if held else 0.0) * state[1]]

            found = self.run([1.0, 0.0], rates)[1], self.run([0.0, 1.0], rates)[1]
            self._known[half_life, leaving] = found
        return self._known[half_life, leaving]


def precursor_decay(t: float, half_life: float) -> float:
    """Of DMS, per minute; the half-life doubles for every 6 K below 100 °C."""
    return math.log(2) / half_life / 2 ** ((100 - t) / 6)


def boil_for_dms(limit: float, at_pitch: Callable[[float], float]) -> float:
    """Minutes after which DMS at pitching stays under the limit: the last crossing, coming down from ten hours."""
    minutes = 600
    while minutes > 0 and at_pitch(minutes) <= limit:
        minutes -= 1
    if minutes == 0 and at_pitch(0) <= limit:
        return 0.0
    return bisected(lambda t: limit - at_pitch(t), minutes, minutes + 1, 40)


# -- beer ------------------------------------------------------------------------------------------------------------


def real_extract(original: float, final: float) -> float:
    return 0.1808 * plato(original) + 0.8192 * plato(final)


def alcohol_by_mass(original: float, final: float) -> float:
    """%: Balling."""
    return (plato(original) - real_extract(original, final)) / (2.0665 - 0.010665 * plato(original))


def alcohol(original: float, final: float) -> float:
    """Share by volume; ethanol's relative density is 0.7907."""
    return alcohol_by_mass(original, final) * final / 0.7907 / 100


def final_gravity(original: float, attenuation: float) -> float:
    return gravity_of(plato(original) * (1 - attenuation))


def attenuation(original: float, final: float) -> float:
    return 1 - plato(final) / plato(original)


def energy(original: float, final: float) -> float:
    """kcal/100 mL: ASBC Beer-33."""
    return (6.9 * alcohol_by_mass(original, final) + 4 * (real_extract(original, final) - 0.1)) * final * RHO


def beer_refractometer(wort_brix: float, brix: float, factor: float) -> float:
    """Novotny 2017, the linear fit."""
    return 1 - 0.002349 * wort_brix / factor + 0.006276 * brix / factor


def co2_volumes(t: float, bar: float) -> float:
    """In beer under so much carbon dioxide and water vapour: IAPWS G7-04, 0.99 for beer, and the two corrections of a
    real gas over a liquid: its second virial coefficient, and the 33 cm3 that a mole takes in water.
    """
    kelvin, vapour = t + 273.15, saturation(t) / 100
    reduced = kelvin / 647.096
    henry = vapour * math.exp(
        -8.55445 / reduced
        + 4.01195 * (1 - reduced) ** 0.355 / reduced
        + 9.52345 * math.exp(1 - reduced) / reduced**0.41
    )
    virial = -4.64 + 14606 / kelvin - 14914900 / kelvin**2
    dry = bar - vapour
    fugacity = dry * math.exp(dry * virial / (83.1446 * kelvin))
    share = 0.99 * fugacity / henry * math.exp(-33 * dry / (83.1446 * kelvin))
    return share / (1 - share) * RHO * 1000 / 18.015 * 44.009 / VOLUME


def co2_pressure(t: float, volumes: float, metres: float = 0) -> float:
    """bar gauge: over the air's pressure there."""
    air = air_pressure(metres) / 100
    return bisected(lambda gauge: co2_volumes(t, gauge + air) - volumes, -air, 30)


def residual_co2(t: float, metres: float = 0) -> float:
    return co2_volumes(t, air_pressure(metres) / 100)


#: g/L of a volume of carbon dioxide, a real gas at 0 °C and 1 atm
VOLUME = 1.9768
#: g of carbon dioxide from a gram of each sugar, by the molar masses of CO2 and the sugar
_FROM_SUGAR = {
    "sucrose": 4 * 44.009 / 342.297,
    "glucose": 2 * 44.009 / 180.156,
    "glucose monohydrate": 2 * 44.009 / 198.171,
    "maltose monohydrate": 4 * 44.009 / 360.312,
}


def priming(volume: float, more: float, sugar: str) -> float:
    return volume * more * VOLUME / _FROM_SUGAR[sugar]


def priming_alcohol(more: float) -> float:
    """Share by volume: a mole of ethanol (46.069 g) with every one of carbon dioxide (44.009)."""
    return more * VOLUME * 46.069 / 44.009 / (790.7 * RHO)


def co2_to_come(original: float, now: float, final: float) -> float:
    """Real extract that will ferment, g/L, of which 0.9565 in 2.0665 becomes carbon dioxide (Balling)."""

    def grams(gravity: float) -> float:
        return real_extract(original, gravity) / 100 * gravity * RHO * 1000

    return (grams(now) - grams(final)) * 0.9565 / 2.0665 / VOLUME


def ramp(day: float, start: float, ramp_day: float, end: float, per_day: float) -> float:
    moved = min(per_day * max(0, day - ramp_day), abs(end - start))
    return start + math.copysign(moved, end - start)


# -- sanitizer -------------------------------------------------------------------------------------------------------


def acid_strength(rate: float, share: float, density: float) -> float:
    """mg/L; a litre of water and the dose make more than a litre."""
    return 1000 * rate * density * share / (1 + rate / 1000)


def chlorine_strength(dose: float, volume: float, share: float, density: float) -> float:
    """mg/L as Cl2 (70.906 g/mol) from sodium hypochlorite (74.442)."""
    return 1000 * dose * density * share * 70.906 / 74.442 / volume


def acid_ph(acid: float, alkalinity: float) -> float:
    """Charge balance of phosphoric acid in water whose alkalinity counts as strong base; Davies' activities, 25 °C."""
    total, base = acid / 97.995 / 1000, alkalinity / 50.04 / 1000
    strength, ph = 0.01, 2.0
    for _ in range(100):
        ph = bisected(lambda x, i=strength: _charges(x, total, i)[0] - base, 0, 12)
        strength = (_charges(ph, total, strength)[1] + base) / 2
    return ph


def _charges(ph: float, total: float, strength: float) -> tuple[float, float]:
    """Negative charges of the acid and of hydroxide less those of hydrogen, and the ions' sum of z^2 c."""
    log_g = -0.509 * (math.sqrt(strength) / (1 + math.sqrt(strength)) - 0.3 * strength)
    g1, g2, g3 = (10 ** (log_g * z * z) for z in (1, 2, 3))
    h = 10**-ph  # the activity of hydrogen
    one, two, three = (
        10**-2.148 / h / g1,
        10 ** -(2.148 + 7.198) / h**2 / g2,
        10 ** -(2.148 + 7.198 + 12.319) / h**3 / g3,
    )
    scale = total / (1 + one + two + three)
    one, two, three, free, hydroxide = one * scale, two * scale, three * scale, h / g1, 1e-14 / h / g1
    return one + 2 * two + 3 * three + hydroxide - free, one + 4 * two + 9 * three + hydroxide + free


def driest_acid(humidity: float) -> float:
    """Mass share of phosphoric acid whose water activity is the air's: one-constant Margules."""
    x = bisected(lambda x: x * math.exp(-5.5 * (1 - x) ** 2) - humidity, 1e-9, 1)
    return (1 - x) * 97.995 / ((1 - x) * 97.995 + x * 18.015)


def dry_factor(nonvolatile: float, water_left: float) -> float:
    """All of the film over what is left of it."""
    return 1 / (nonvolatile + (1 - nonvolatile) * water_left)


def wet_bulb(t: float, humidity: float) -> float:
    """ASHRAE's balance at sea level."""
    vapour = humidity * saturation(t)
    ratio = 0.621945 * vapour / (101.325 - vapour)

    def balance(wet: float) -> float:
        saturated = 0.621945 * saturation(wet) / (101.325 - saturation(wet))
        return (2501 - 2.326 * wet) * saturated - 1.006 * (t - wet) - ratio * (2501 + 1.86 * t - 4.186 * wet)

    return bisected(balance, 0.01, t)


def dry_minutes(film: float, t: float, humidity: float, transfer: float) -> float:
    """A film of so many µm takes its heat from the air alone."""
    wet = wet_bulb(t, humidity)
    return film * 1e-6 * water_density(wet) * 1000 * heat_of_evaporation(wet) * 1000 / (transfer * (t - wet)) / 60


# -- brewing water ---------------------------------------------------------------------------------------------------

#: g/mol, from IUPAC's standard atomic weights (molmass checks them for the functions)
_CA, _MG, _NA, _CL, _SO4, HCO3, _CO3, _OH, _WATER = (
    40.078,
    24.305,
    22.990,
    35.453,
    96.062,
    61.017,
    60.009,
    17.007,
    18.015,
)
AS_CACO3 = 50.04  # mg of calcium carbonate a milliequivalent
#: of a salt: g/mol, what a mole holds of each ion in g, and of alkalinity in eq
SALTS: dict[str, tuple[float, dict[str, float], int]] = {
    "gypsum": (_CA + _SO4 + 2 * _WATER, {"calcium": _CA, "sulfate": _SO4}, 0),
    "calcium chloride anhydrous": (_CA + 2 * _CL, {"calcium": _CA, "chloride": 2 * _CL}, 0),
    "calcium chloride dihydrate": (_CA + 2 * _CL + 2 * _WATER, {"calcium": _CA, "chloride": 2 * _CL}, 0),
    "epsom salt": (_MG + _SO4 + 7 * _WATER, {"magnesium": _MG, "sulfate": _SO4}, 0),
    "table salt": (_NA + _CL, {"sodium": _NA, "chloride": _CL}, 0),
    "baking soda": (_NA + HCO3, {"sodium": _NA}, 1),
    "chalk": (_CA + _CO3, {"calcium": _CA}, 2),
    "magnesium chloride hexahydrate": (_MG + 2 * _CL + 6 * _WATER, {"magnesium": _MG, "chloride": 2 * _CL}, 0),
    "slaked lime": (_CA + 2 * _OH, {"calcium": _CA}, 2),
}
#: g/mol, and the pK of each proton at 25 °C, as handbooks have them
ACIDS = {"lactic": (90.078, (3.86,)), "phosphoric": (97.994, (2.148, 7.198, 12.319))}
#: a malt's pH in distilled water and its meq/kg/pH, low, typical and high, as commonly quoted by kind
MALTS = {
    "pilsner": ((5.6, 5.75, 5.9), (30, 38, 48)), "pale": ((5.55, 5.7, 5.85), (30, 40, 50)),
    "vienna": ((5.45, 5.6, 5.7), (32, 42, 52)), "munich": ((5.3, 5.45, 5.6), (35, 45, 55)),
    "wheat": ((5.7, 5.95, 6.1), (30, 40, 55)), "light caramel": ((5.0, 5.25, 5.5), (35, 50, 65)),
    "caramel": ((4.65, 4.95, 5.2), (40, 55, 70)), "dark caramel": ((4.35, 4.65, 4.95), (45, 60, 80)),
    "roasted": ((4.4, 4.65, 4.9), (35, 50, 80)), "acidulated": ((3.4, 3.5, 3.6), (105, 135, 165)),
}  # fmt: skip


def acid_charge(acid: str, ph: float) -> float:
    """Protons that a molecule has given off."""
    weights = [1.0]
    for pk in ACIDS[acid][1]:
        weights.append(weights[-1] * 10 ** (ph - pk))
    return sum(n * weight for n, weight in enumerate(weights)) / sum(weights)


def alkalinity_at(ph: float, carbonate: float) -> float:
    """eq/L of so many mol/L of carbonate; pK of phreeqc.dat."""
    first, second = 10 ** (ph - 6.352), 10 ** (2 * ph - 6.352 - 10.329)
    return carbonate * (first + 2 * second) / (1 + first + second) + 10 ** (ph - 13.995) - 10**-ph


def water_acid(volume: float, alkalinity: float, ph: float, target: float, acid: str, share: float) -> float | None:
    """g of the acid as sold, carbon dioxide kept; None where the pH alone asks for more alkalinity than there is."""
    there = alkalinity / AS_CACO3 / 1000
    alone = alkalinity_at(ph, 0)
    if there < alone:
        return None
    carbonate = (there - alone) / (alkalinity_at(ph, 1) - alone)
    moles = volume * (there - alkalinity_at(target, carbonate)) / acid_charge(acid, target)
    return moles * ACIDS[acid][0] / share


def mash_ph(
    malts: Iterable[tuple[float, float, float]], water: float, residual: float, grams: float = 0.0,
    acid: str = "lactic", share: float = 1.0,
) -> float:  # fmt: skip
    """Where the charges balance: of malts given as kg, pH and meq/kg/pH."""
    every = list(malts)
    moles = 1000 * grams * share / ACIDS[acid][0]

    def balance(ph: float) -> float:
        taken = math.fsum(kilograms * buffering * (ph - own) for kilograms, own, buffering in every)
        return taken + moles * acid_charge(acid, ph) - water * residual / AS_CACO3

    return bisected(balance, 0, 14)


def mash_acid(
    malts: Iterable[tuple[float, float, float]], water: float, residual: float, target: float, acid: str, share: float
) -> float:
    """g of the acid as sold that make the charges balance at a pH."""
    taken = math.fsum(kilograms * buffering * (target - own) for kilograms, own, buffering in malts)
    return (water * residual / AS_CACO3 - taken) / acid_charge(acid, target) * ACIDS[acid][0] / share / 1000


def metabisulfite(volume: float, chlorine: float, salt: str) -> float:
    """g: S2O5 takes two Cl2."""
    grams = 190.11 if salt.startswith("sodium") else 222.32
    return volume * chlorine / 1000 / (2 * _CL) * grams / 2
