"""Brewing formulas as spreadsheet functions that can be trusted.

Every worksheet function is here under its lower-case name. It takes numbers, quantity text, lists, numpy arrays and
pint quantities, and gives numbers or arrays back, in the unit its help states.

>>> import brewfuncs
>>> brewfuncs.hop_bitterness("1 oz", "5.5 %", 60, "5 gal", 1.05)
19.002
>>> brewfuncs.evaluate("=HOP_SWAP_MASS(30,60,30)")
39.036
"""

from . import starting  # noqa: F401  (before all else, so that Ctrl-C finds it)

# isort: split
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any, Literal, TypeVar

from .errors import BadInput, BrewError, CellError, NotListed, OutOfRange, WorkbookError
from .units import registry

if TYPE_CHECKING:  # what a caller may give: made from the declarations by docs/generate.py
    from ._signatures import *  # noqa: F403
else:
    from .formulas.beer import (
        beer_abv,
        beer_attenuation,
        beer_co2,
        beer_co2_pressure,
        beer_co2_to_come,
        beer_energy,
        beer_final,
        beer_oxygen,
        beer_pitch,
        beer_priming,
        beer_ramp_temp,
        beer_real_extract,
        beer_refractometer,
        beer_residual_co2,
    )
    from .formulas.boil import (
        boil_cooling,
        boil_evaporation_energy,
        boil_heat_energy,
        boil_heat_minutes,
        boil_minutes,
        boil_off,
        boil_off_share,
        boil_rate,
        boil_temp,
    )
    from .formulas.dms import (
        dms_after_boil,
        dms_after_cooling,
        dms_at_pitch,
        dms_boil_minutes,
        dms_half_life,
        dms_load,
        dms_precursor_left,
    )
    from .formulas.hopage import hop_aged_alpha, hop_storage_loss
    from .formulas.hops import (
        hop_aroma_left,
        hop_balance,
        hop_bitterness,
        hop_equivalent_minutes,
        hop_iso_yield,
        hop_iso_yield_cooling,
        hop_mass,
        hop_stand_bitterness,
        hop_swap_mass,
        hop_utilization,
    )
    from .formulas.mash import (
        mash_lauter_efficiency,
        mash_pasteur_ramp,
        mash_pasteur_units,
        mash_rest_temp,
        mash_step_water,
        mash_strike_temp,
        mash_water,
    )
    from .formulas.reference import (
        brew_reason,
        brew_source,
        unit_convert,
    )
    from .formulas.sanitizer import (
        sani_chlorine,
        sani_dose,
        sani_dose_for,
        sani_dry_acid,
        sani_dry_factor,
        sani_dry_factor_in_air,
        sani_dry_minutes,
        sani_ph,
        sani_plastic,
        sani_residue,
        sani_strength,
    )
    from .formulas.water import (
        water_density,
        water_residual_alkalinity,
        water_salt,
        water_salt_alkalinity,
        water_salt_mass,
    )
    from .formulas.watertreatment import (
        mash_acid,
        mash_malt_buffering,
        mash_malt_ph,
        mash_ph,
        water_acid,
        water_acid_ph,
        water_blend,
        water_sulfite,
    )
    from .formulas.wort import (
        wort_blend,
        wort_color,
        wort_efficiency,
        wort_extract,
        wort_extract_to_add,
        wort_gravity,
        wort_gravity_of_extract,
        wort_hydrometer,
        wort_mash_gravity,
        wort_plato,
        wort_postboil_gravity,
        wort_postboil_volume,
        wort_preboil_gravity,
        wort_preboil_volume,
        wort_refractometer,
        wort_volume_at,
        wort_water_to_add,
    )
    from .formulas.yeast import (
        beer_dry_yeast,
        beer_slurry_cells,
        beer_slurry_volume,
        beer_starter_cells,
        beer_starter_volume,
        beer_viability,
        beer_viability_loss,
    )

__version__ = "0.1.0"

__all__ = [
    "BadInput",
    "BrewError",
    "CellError",
    "NotListed",
    "OutOfRange",
    "WorkbookError",
    "__version__",
    "beer_abv",
    "beer_attenuation",
    "beer_co2",
    "beer_co2_pressure",
    "beer_co2_to_come",
    "beer_dry_yeast",
    "beer_energy",
    "beer_final",
    "beer_oxygen",
    "beer_pitch",
    "beer_priming",
    "beer_ramp_temp",
    "beer_real_extract",
    "beer_refractometer",
    "beer_residual_co2",
    "beer_slurry_cells",
    "beer_slurry_volume",
    "beer_starter_cells",
    "beer_starter_volume",
    "beer_viability",
    "beer_viability_loss",
    "boil_cooling",
    "boil_evaporation_energy",
    "boil_heat_energy",
    "boil_heat_minutes",
    "boil_minutes",
    "boil_off",
    "boil_off_share",
    "boil_rate",
    "boil_temp",
    "brew_reason",
    "brew_source",
    "dms_after_boil",
    "dms_after_cooling",
    "dms_at_pitch",
    "dms_boil_minutes",
    "dms_half_life",
    "dms_load",
    "dms_precursor_left",
    "evaluate",
    "evaluate_table",
    "hop_aged_alpha",
    "hop_aroma_left",
    "hop_balance",
    "hop_bitterness",
    "hop_equivalent_minutes",
    "hop_iso_yield",
    "hop_iso_yield_cooling",
    "hop_mass",
    "hop_stand_bitterness",
    "hop_storage_loss",
    "hop_swap_mass",
    "hop_utilization",
    "mash_acid",
    "mash_lauter_efficiency",
    "mash_malt_buffering",
    "mash_malt_ph",
    "mash_pasteur_ramp",
    "mash_pasteur_units",
    "mash_ph",
    "mash_rest_temp",
    "mash_step_water",
    "mash_strike_temp",
    "mash_water",
    "registry",
    "sani_chlorine",
    "sani_dose",
    "sani_dose_for",
    "sani_dry_acid",
    "sani_dry_factor",
    "sani_dry_factor_in_air",
    "sani_dry_minutes",
    "sani_ph",
    "sani_plastic",
    "sani_residue",
    "sani_strength",
    "unit_convert",
    "water_acid",
    "water_acid_ph",
    "water_blend",
    "water_density",
    "water_residual_alkalinity",
    "water_salt",
    "water_salt_alkalinity",
    "water_salt_mass",
    "water_sulfite",
    "wort_blend",
    "wort_color",
    "wort_efficiency",
    "wort_extract",
    "wort_extract_to_add",
    "wort_gravity",
    "wort_gravity_of_extract",
    "wort_hydrometer",
    "wort_mash_gravity",
    "wort_plato",
    "wort_postboil_gravity",
    "wort_postboil_volume",
    "wort_preboil_gravity",
    "wort_preboil_volume",
    "wort_refractometer",
    "wort_volume_at",
    "wort_water_to_add",
]

_Table = TypeVar("_Table")


def evaluate(formula: str) -> Any:
    """The value of any worksheet formula: a number, text, truth value, or rows of them; its errors raise.

    >>> evaluate("=1/0")
    Traceback (most recent call last):
    brewfuncs.errors.CellError: the formula gives #DIV/0!
    """
    from .hosts.engine import evaluate as evaluate_formula

    return evaluate_formula(formula)


def evaluate_table(frame: _Table, formulas: Mapping[str, str], *, errors: Literal["null", "raise"] = "null") -> _Table:
    """A pandas, Polars or Arrow table with one more column for each formula; needs the extra `tables`.

    formulas: new column -> formula, such as {"ibu": "=HOP_BITTERNESS([mass],[alpha],[minutes],20)*2"}. [mass] or
        [@mass] is the row's value in that column; a formula may use columns that formulas before it have made.
    errors: "null" leaves rows in error empty, like those that lack a value; "raise" says how many and why the first.
    """
    from .tables import evaluate_table as evaluate_whole_table

    return evaluate_whole_table(frame, formulas, errors=errors)
