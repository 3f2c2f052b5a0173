"""Every function that a batch rests on, against a second writing of its published formula (batch_physics.py).

Slips of the pen show here: a term left out, a constant's digit, an argument for another. What both took from the same
source and the source has wrong doesn't; the tests of the single functions compare with other sources.
"""

import random
from collections.abc import Callable
from typing import Any, NamedTuple

import pytest

import brewfuncs as b
from tests import batch_physics as physics
from tests.batch_physics import HotSide


class Pair(NamedTuple):
    name: str
    ours: Callable[..., Any]
    theirs: Callable[..., Any]
    ranges: tuple[tuple[float, float], ...]
    relative: float = 1e-9  # both are exact but for rounding; Runge and Kutta's steps are good for 1e-6


def boil_for_dms(precursor: float, evaporation: float, hot: HotSide) -> float:
    return physics.boil_for_dms(60, lambda minutes: hot.dms(precursor, minutes, evaporation, 65, 38))


#: ranges of brewing: volumes in L, gravities, °C, minutes, shares
L, LATE, SG, LOW, HIGH = (5, 60), (0.5, 8), (1.02, 1.1), (1.03, 1.045), (1.05, 1.08)
COOL, FACTOR, MASS, ALPHA, MINUTES = (1, 20), (1.0, 1.06), (5, 100), (0.02, 0.2), (1, 90)
COOLING = ((92, 100), (5, 25), (0.03, 0.2), (10, 40), (0, 40), (70, 90))  # boil, coolant, constant, min; stand: min, °C
GRIST = ((3, 8), (5.4, 5.9), (30, 50), (0.1, 1), (4.4, 5.2), (30, 80))  # of two malts: kg, pH, meq/kg/pH
DMS = ((100, 3000), MINUTES, (0.02, 0.3), (18, 75), (32, 40))

PAIRS = [
    Pair("density", b.water_density, physics.water_density, ((0, 100),)),
    Pair("plato", b.wort_plato, physics.plato, (SG,)),
    Pair("gravity", b.wort_gravity, physics.gravity_of, ((0, 28),)),
    Pair("extract", b.wort_extract, physics.extract, (L, SG)),
    Pair(
        "of extract",
        lambda v, x: b.wort_gravity_of_extract(x * v, v),
        lambda v, x: physics.gravity_of_extract(x * v, v),
        (L, (0.02, 0.25)),
    ),
    Pair(
        "mash",
        lambda m, y, e, v: b.wort_mash_gravity([m, 0.5], [y, 0.7], e, v),
        lambda m, y, e, v: physics.gravity_of_extract(e * (m * y + 0.5 * 0.7), v),
        ((3, 8), (0.6, 0.8), (0.5, 0.9), L),
    ),
    Pair(
        "efficiency",
        lambda m, y, v, s: b.wort_efficiency([m, 0.5], [y, 0.7], v, s),
        lambda m, y, v, s: physics.extract(v, s) / (m * y + 0.5 * 0.7),
        ((8, 15), (0.7, 0.8), (5, 25), LOW),
    ),
    Pair(
        "blend",
        b.wort_blend,
        lambda v, s, w, t: physics.of_masses(
            physics.mass(v, s) + physics.mass(w, t), physics.extract(v, s) + physics.extract(w, t)
        )[1],
        (L, LOW, L, HIGH),
    ),
    Pair("volume before", b.wort_preboil_volume, lambda v, s, w: physics.with_water(v, s, w)[0], (L, SG, LATE)),
    Pair("gravity before", b.wort_preboil_gravity, lambda v, s, w: physics.with_water(v, s, w)[1], (L, SG, LATE)),
    Pair("volume after", b.wort_postboil_volume, lambda v, s, w: physics.with_water(v, s, -w)[0], ((15, 60), SG, LATE)),
    Pair(
        "gravity after", b.wort_postboil_gravity, lambda v, s, w: physics.with_water(v, s, -w)[1], ((15, 60), LOW, LATE)
    ),
    Pair("water to add", b.wort_water_to_add, physics.water_down_to, (L, HIGH, LOW)),
    Pair("extract to add", b.wort_extract_to_add, physics.extract_up_to, (L, LOW, HIGH)),
    Pair("volume at", b.wort_volume_at, physics.at_temperature, (L, (0, 100), (0, 100))),
    Pair("hydrometer", b.wort_hydrometer, physics.hydrometer, (SG, (5, 59), (15, 20))),
    Pair("refractometer", b.wort_refractometer, physics.refractometer, ((2, 25), FACTOR)),
    Pair(
        "color",
        lambda m, c, v: b.wort_color([m, 0.3], [c, 60], v),
        lambda m, c, v: physics.color([(m, c), (0.3, 60)], v),
        ((2, 8), (1, 20), L),
    ),
    Pair("boiling", b.boil_temp, physics.boiling_point, ((0, 4000),)),
    Pair("heat", b.boil_heat_energy, physics.heating, (L, (5, 20), (50, 100))),
    Pair("evaporation", b.boil_evaporation_energy, physics.evaporating, (LATE,)),
    Pair(
        "boil minutes",
        b.boil_minutes,
        lambda v, s, t, r: -60 * physics.water_down_to(v, s, t) / r,
        ((20, 60), LOW, (1.046, 1.049), (2, 6)),
    ),
    Pair("strike", b.mash_strike_temp, physics.strike_temp, ((60, 70), (5, 30), (2, 5))),
    Pair("water", b.mash_water, lambda v, g, a, lost: v + g * a + lost, (L, (2, 8), (0.5, 1.5), (0, 2))),
    Pair("pasteur", b.mash_pasteur_units, physics.pasteur_units, ((0, 60), (60, 80))),
    *(
        Pair(
            method,
            lambda g, a, t, v, s, boil, m=method: b.hop_bitterness(g, a, t, v, s, m, boil),
            lambda g, a, t, v, s, boil, m=method: physics.bitterness(g, a, physics.utilization(m, t, s, boil), v),
            (MASS, ALPHA, MINUTES, L, SG, (92, 100)),
        )
        for method in ("tinseth", "kinetic", "rager smooth", "rager table")
    ),
    *(
        Pair(
            f"{method}, swapped",
            lambda g, t, u, s, r, boil, m=method: b.hop_swap_mass(g, t, u, m, s, r, boil),
            lambda g, t, u, s, r, boil, m=method: (
                g * physics.utilization(m, t, s, boil) / physics.utilization(m, u, r, boil)
            ),
            (MASS, MINUTES, MINUTES, SG, SG, (92, 100)),
        )
        for method in ("tinseth", "kinetic", "rager smooth", "rager table")
    ),
    Pair(
        "isomerised",
        lambda t, boil, cold, k, n, s, at: b.hop_iso_yield_cooling(t, n, cold, k, boil, s, at),
        lambda t, *course: HotSide(*course).isomerised(t),
        (MINUTES, *COOLING),
        1e-6,
    ),
    Pair(
        "stand",
        lambda g, a, t, at, v, n, cold, k: b.hop_stand_bitterness(g, a, t, at, v, 0.5, n, cold, k),
        lambda g, a, t, at, v, n, cold, k: physics.bitterness(g, a, 0.5 * HotSide(at, cold, k, n).isomerised(t), v),
        (MASS, ALPHA, MINUTES, (70, 95), L, (10, 40), (5, 25), (0.03, 0.2)),
        1e-6,
    ),
    Pair(
        "equivalent",
        lambda boil, cold, k, n, s, at: b.hop_equivalent_minutes(n, cold, k, boil, s, at),
        lambda *course: HotSide(*course).equivalent_minutes(),
        COOLING,
        1e-6,
    ),
    Pair("aroma", lambda e: b.hop_aroma_left(e, "linalool"), lambda e: (1 - e) ** 35, ((0, 0.3),), 0.02),
    Pair(
        "dms",
        lambda s, t, e, v, h, boil, cold, k, n, m, at, open_: b.dms_at_pitch(
            s, t, e, n, k, cold, v, h, boil, m, at, open_
        ),
        lambda s, t, e, v, h, *course: HotSide(*course[:-1]).dms(s, t, e, v, h, course[-1]),
        (*DMS, *COOLING, (0, 0.1)),
        1e-6,
    ),
    Pair(
        "boil for dms",
        lambda s, e, boil, cold, k, n, m, at: b.dms_boil_minutes(s, 60, e, n, k, cold, 65, 38, boil, m, at),
        lambda s, e, *course: boil_for_dms(s, e, HotSide(*course)),
        ((200, 3000), (0.05, 0.3), *COOLING),
        1e-6,
    ),
    Pair("abv", b.beer_abv, physics.alcohol, (HIGH, (1.0, 1.03))),
    Pair("final", b.beer_final, physics.final_gravity, (HIGH, (0.5, 0.9))),
    Pair("real extract", b.beer_real_extract, physics.real_extract, (HIGH, (1.005, 1.03))),
    Pair("attenuation", b.beer_attenuation, physics.attenuation, (HIGH, (1.0, 1.03))),
    Pair("energy", b.beer_energy, physics.energy, (HIGH, (1.0, 1.03))),
    Pair("fermenting", b.beer_refractometer, physics.beer_refractometer, ((12, 18), (6, 11), FACTOR)),
    Pair("pressure", b.beer_co2_pressure, physics.co2_pressure, (COOL, (2, 3.5), (0, 3000))),
    Pair("residual", b.beer_residual_co2, physics.residual_co2, (COOL, (0, 3000))),
    Pair("to come", b.beer_co2_to_come, physics.co2_to_come, (HIGH, (1.015, 1.03), (1.0, 1.014))),
    *(
        Pair(
            sugar,
            lambda v, t, r, s=sugar: b.beer_priming(v, t, r, s),
            lambda v, t, r, s=sugar: physics.priming(v, t - r, s),
            (L, (2, 3), (0.7, 1.2)),
            1e-5,
        )  # molar masses to 0.001
        for sugar in ("sucrose", "glucose", "glucose monohydrate", "maltose monohydrate")
    ),
    Pair("warmed", b.beer_ramp_temp, physics.ramp, ((0, 14), (15, 20), (3, 6), (21, 24), (0.5, 2))),
    Pair("cooled", b.beer_ramp_temp, physics.ramp, ((0, 14), (15, 20), (3, 6), (2, 8), (0.5, 2))),
    Pair("acid", b.sani_strength, physics.acid_strength, ((0.5, 5), (0.1, 0.8), (1.0, 1.6))),
    Pair("chlorine", b.sani_chlorine, physics.chlorine_strength, ((5, 50), L, (0.03, 0.14), (1.0, 1.2))),
    Pair("ph", b.sani_ph, physics.acid_ph, ((500, 3000), (0, 200)), 1e-6),
    Pair("driest", b.sani_dry_acid, physics.driest_acid, ((0.1, 0.9),)),
    Pair("drying", b.sani_dry_factor, physics.dry_factor, ((1e-4, 0.1), (0, 1))),
    *(
        Pair(
            f"water, {acid}",
            lambda v, a, ph, down, share, acid=acid: b.water_acid(v, a, ph, 4 + down * (ph - 4), acid, share),
            lambda v, a, ph, down, share, acid=acid: physics.water_acid(v, a, ph, 4 + down * (ph - 4), acid, share),
            (L, (40, 400), (5, 10), (0, 0.75), (0.1, 1)),  # from all of the carbonate's acid given off to none
        )
        for acid in ("lactic", "phosphoric")
    ),
    *(
        Pair(
            f"mash, {acid}",
            lambda m, p, c, n, q, d, v, ra, g, share, acid=acid: b.mash_ph(
                [m, n], [p, q], [c, d], v, ra, g, acid, share
            ),
            lambda m, p, c, n, q, d, v, ra, g, share, acid=acid: physics.mash_ph(
                [(m, p, c), (n, q, d)], v, ra, g, acid, share
            ),
            (*GRIST, L, (-200, 400), (0, 20), (0.1, 1)),
        )
        for acid in ("lactic", "phosphoric")
    ),
    *(
        Pair(
            f"acid for a mash, {acid}",
            lambda m, p, c, n, q, d, v, ra, to, share, acid=acid: b.mash_acid(
                [m, n], [p, q], [c, d], v, ra, to, acid, share
            ),
            lambda m, p, c, n, q, d, v, ra, to, share, acid=acid: physics.mash_acid(
                [(m, p, c), (n, q, d)], v, ra, to, acid, share
            ),
            (*GRIST, L, (200, 400), (4.5, 5.2), (0.1, 1)),
        )
        for acid in ("lactic", "phosphoric")
    ),
    Pair("film", b.sani_dry_minutes, physics.dry_minutes, ((20, 100), (10, 30), (0.2, 0.8), (5, 25)), 1e-6),
]


@pytest.mark.parametrize("pair", PAIRS, ids=lambda pair: pair.name)
def test_two_writings_of_a_formula_agree(pair: Pair) -> None:
    pick = random.Random(pair.name)
    for _ in range(8):
        given = [pick.uniform(*limits) for limits in pair.ranges]
        assert pair.ours(*given) == pytest.approx(pair.theirs(*given), rel=pair.relative), given


@pytest.mark.parametrize("kind", physics.MALTS)
def test_malts_by_kind_are_as_written_twice(kind: str) -> None:
    ends = ("low", "typical", "high")
    assert tuple(b.mash_malt_ph(kind, end) for end in ends) == physics.MALTS[kind][0]
    assert tuple(b.mash_malt_buffering(kind, end) for end in ends) == physics.MALTS[kind][1]
