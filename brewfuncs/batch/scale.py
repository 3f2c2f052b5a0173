"""A recipe for another volume or another kettle: malts by their extract, hops by the bitterness they give there."""

from __future__ import annotations

from typing import cast

from brewfuncs import boil_off, hop_utilization, wort_postboil_gravity, wort_preboil_gravity
from brewfuncs.batch.plan import INPUTS, Amount, Entered, Plan
from brewfuncs.batch.sheets.recipe import goes_to
from brewfuncs.errors import BrewError, WorkbookError

__all__ = ["not_scaled", "scaled"]

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
    evaporation gives; stands go with the volume. Raises WorkbookError where the volume can't be read.
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
        in_the_mash = goes_to(str(row.get("name") or ""), cast("str | None", row.get("goes"))) == "mash"
        row["mass"] = _times(row.get("mass"), mashed if in_the_mash else ratio)
    for row in new.rows.get("hops", []):
        in_the_boil = row.get("stand_temp") is None and isinstance(row.get("time"), Amount)
        factor = _utilization(old, row) / _utilization(new, row) if in_the_boil and _utilization(new, row) else 1.0
        row["mass"] = _times(row.get("mass"), ratio * factor)
    return new


def _number(plan: Plan, key: str) -> float:
    """In the unit that formulas use, 0 where it is blank."""
    return plan.base(key) or 0.0


def _times(value: Entered, factor: float) -> Entered:
    return value._replace(number=value.number * factor) if isinstance(value, Amount) else value


def _utilization(plan: Plan, row: dict[str, Entered]) -> float:
    """Share of a boiled addition's alpha acid that ends as bitterness, by the plan's own model."""
    volume, gravity, topup = (_number(plan, key) for key in ("batch.volume", "batch.gravity", "kettle.topup"))
    time = row["time"]
    assert isinstance(time, Amount)
    minutes = INPUTS["hops.time"].item.in_base(time)
    fermenter = volume - _number(plan, "kettle.loss") + topup
    in_kettle = float(wort_postboil_gravity(fermenter, gravity, topup))  # before it is topped up
    rate = 0.0 if plan.values.get("boil.kettle") == "covered" else _number(plan, "kettle.boil_off")
    before = float(wort_preboil_gravity(volume, in_kettle, float(boil_off(rate, minutes))))
    return float(
        hop_utilization(minutes, (before + in_kettle) / 2, str(plan.values.get("batch.bittering") or "tinseth"))
    )


def not_scaled(other_equipment: bool) -> tuple[str, ...]:
    """What doesn't go with the volume, in sentences."""
    if other_equipment:
        return ("Evaporation, losses and chilling are those of the other plan: see that they are its kettle's own.",)
    return (
        "Not scaled: what the kettle boils off in an hour, what it keeps back and how fast it chills. They belong to "
        "the kettle; a fuller one takes longer to heat and to chill. The plan says whether it holds the boil.",
    )
