"""A recipe for another volume or another kettle: malts by their extract, hops by the bitterness they give there, salts
by the water they go into."""

from __future__ import annotations

from collections.abc import Mapping
from typing import cast

from brewfuncs import (
    boil_off,
    hop_utilization,
    mash_water,
    wort_postboil_gravity,
    wort_preboil_gravity,
    wort_preboil_volume,
)
from brewfuncs.batch.inputs import Amount, Entered
from brewfuncs.batch.plan import Plan
from brewfuncs.batch.sections import INPUTS
from brewfuncs.batch.sheets.recipe import goes_to
from brewfuncs.errors import BrewError, WorkbookError

__all__ = ["said_of_scaling", "scaled"]

#: the sections that say how a brewery works and nothing of the recipe
_EQUIPMENT = ("kettle", "chill")
_EQUIPMENT_INPUTS = ("mash.efficiency", "mash.absorption", "mash.loss", "mash.sparge", "boil.altitude", "boil.kettle")
#: of those sections, what belongs to the recipe all the same
_OF_THE_RECIPE = ("kettle.topup",)


def scaled(plan: Plan, volume: str, equipment: Plan | None = None) -> Plan:
    """The same beer in another volume, and with the kettle, mash tun and chiller of another plan.

    volume: of wort after the boil, such as "40 L".

    By mass and extract at the same gravity: fermentables go with the volume, those that are mashed by the efficiencies
    too. Additions to the boil keep their bitterness by the plan's own model, in the gravity that the new kettle's
    evaporation gives; stands go with the volume; salts and the mash's acid with the water. Raises WorkbookError where
    the volume can't be read.
    """
    key = "batch.volume"
    try:
        new_volume = INPUTS[key].item.read(volume)
    except BrewError as error:
        raise WorkbookError(f"volume: {error}") from None
    assert isinstance(new_volume, Amount)
    old = plan
    new = Plan(
        dict(plan.values), {key: [dict(row) for row in rows] for key, rows in plan.rows.items()}, dict(plan.units)
    )
    new.values[key] = new_volume
    new.units["batch_volume"] = new_volume.unit
    if equipment is not None:
        for name, value in equipment.values.items():
            if (name.partition(".")[0] in _EQUIPMENT or name in _EQUIPMENT_INPUTS) and name not in _OF_THE_RECIPE:
                new.values[name] = value
    efficiency = "mash.efficiency"
    if not (_number(old, efficiency) and _number(new, efficiency)):
        raise WorkbookError(f"{efficiency} is 0: nothing can be scaled by it")
    ratio = _number(new, key) / _number(old, key)
    for name in _OF_THE_RECIPE:
        new.values[name] = _times(new.values.get(name), ratio)
    mashed = ratio * _number(old, efficiency) / _number(new, efficiency)
    for row in new.rows.get("malts", []):
        row["mass"] = _times(row.get("mass"), mashed if _is_mashed(row) else ratio)
    for row in new.rows.get("hops", []):
        in_the_boil = row.get("stand_temp") is None and isinstance(row.get("time"), Amount)
        factor = _utilization(old, row) / _utilization(new, row) if in_the_boil and _utilization(new, row) else 1.0
        row["mass"] = _times(row.get("mass"), ratio * factor)
    water = _water(old), _water(new)
    for row in new.rows.get("salts", []):
        row["mass"] = _times(row.get("mass"), _more(*water, str(row.get("into") or "both")))
    acid = "water.mash_acid_mass"
    if acid in new.values:
        new.values[acid] = _times(new.values[acid], _more(*water, "mash"))
    return new


def _water(plan: Plan) -> dict[str, float]:
    """L of brewing water into mash, sparge and both; sugar in the kettle, a fraction of a litre, is left out."""
    volume, in_kettle = _number(plan, "batch.volume"), _in_kettle(plan)
    length = "shorter.time" if plan.values.get("shorter.brewed") == "shorter" else "boil.time"
    gone = float(boil_off(_boil_off_rate(plan), _number(plan, length)))
    before = float(wort_preboil_volume(volume, in_kettle, gone))
    item = INPUTS["malts.mass"].item
    masses = (row.get("mass") for row in plan.rows.get("malts", []) if _is_mashed(row))
    grain = sum(item.in_base(mass) for mass in masses if isinstance(mass, Amount))
    both = float(mash_water(before, grain, _number(plan, "mash.absorption"), _number(plan, "mash.loss") * bool(grain)))
    mash = min(both, _number(plan, "mash.ratio") * grain)
    return {"mash": mash, "sparge": both - mash, "both": both}


def _more(old: dict[str, float], new: dict[str, float], into: str) -> float:
    """The factor for what goes into a water; where one of the plans has none of it, that of all the water."""
    into = into if old[into] > 0 and new[into] > 0 else "both"
    return new[into] / old[into]


def _number(plan: Plan, key: str) -> float:
    """In the unit that formulas use, 0 where it is blank."""
    return plan.base(key) or 0.0


def _is_mashed(row: Mapping[str, Entered]) -> bool:
    return goes_to(str(row.get("name") or ""), cast("str | None", row.get("goes"))) == "mash"


def _times(value: Entered, factor: float) -> Entered:
    return value._replace(number=value.number * factor) if isinstance(value, Amount) else value


def _utilization(plan: Plan, row: dict[str, Entered]) -> float:
    """Share of a boiled addition's alpha acid that ends as bitterness, by the plan's own model."""
    volume, in_kettle, time = _number(plan, "batch.volume"), _in_kettle(plan), row["time"]
    assert isinstance(time, Amount)
    minutes = INPUTS["hops.time"].item.in_base(time)
    before = float(wort_preboil_gravity(volume, in_kettle, float(boil_off(_boil_off_rate(plan), minutes))))
    return float(
        hop_utilization(minutes, (before + in_kettle) / 2, str(plan.values.get("batch.bittering") or "tinseth"))
    )


def _in_kettle(plan: Plan) -> float:
    """The gravity at the end of the boil, before it is topped up."""
    volume, gravity, topup = (_number(plan, key) for key in ("batch.volume", "batch.gravity", "kettle.topup"))
    return float(wort_postboil_gravity(volume - _number(plan, "kettle.loss") + topup, gravity, topup))


def _boil_off_rate(plan: Plan) -> float:
    return 0.0 if plan.values.get("boil.kettle") == "covered" else _number(plan, "kettle.boil_off")


def said_of_scaling(other_equipment: bool) -> tuple[str, ...]:
    """What goes with the volume and what doesn't, in sentences."""
    scaled = (
        "Scaled: fermentables by their extract, hops by the bitterness they give there, salts and the mash's acid by "
        "the water they go into."
    )
    if other_equipment:
        return (
            scaled,
            "Evaporation, losses and chilling are those of the other plan: see that they are its kettle's own.",
        )
    return (
        scaled,
        "Not scaled: what the kettle boils off in an hour, what it keeps back and how fast it chills. They belong to "
        "the kettle; a fuller one takes longer to heat and to chill. The plan says whether it holds the boil.",
    )
