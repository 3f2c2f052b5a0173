"""The plan: what the brewer decides, and what follows from it."""

from __future__ import annotations

from brewfuncs import units
from brewfuncs.batch.sheet import Block, Column, Draft, Result

__all__ = ["METHODS", "build"]

#: the bittering models in the order every sheet shows them: name in formulas, in tables, in names of cells
METHODS = (
    ("tinseth", "Tinseth", "tinseth"),
    ("kinetic", "Kinetic", "kinetic"),
    ("rager smooth", "Rager smooth", "rager_smooth"),
    ("rager table", "Rager table", "rager_table"),
)
BITTER = "0;-0;"  # an empty row shows nothing


def build(book: Draft) -> None:
    page = book.page("Plan", "Plan")
    left, right = page.columns()
    _inputs(left)
    _results(right)
    page.skip_to(left, right)
    page.section("Malts")
    page.table(
        "malts",
        {
            "name": Column("B"),
            "mass": Column("C", "D"),
            "yield": Column("E"),
            "color": Column("F", "H"),
            "precursor": Column("I", head="DMS precursor"),
        },
        [
            Result(
                "J",
                "Share of grain",
                "=IF(malt_{n}_kg=0,0,malt_{n}_kg/grain_in_kg)",
                number="0.0 %;-0.0 %;",
                look="value",
            ),
            Result("K", "Extract in it", "=malt_{n}_kg*malt_{n}_extract", "kg", "0.00;-0.00;", look="value"),
        ],
    )
    page.row += 1
    page.section("Hops, and the bitterness of each by four methods")
    page.table(
        "hops",
        {
            "name": Column("B"),
            "mass": Column("C", "D"),
            "alpha": Column("E"),
            "time": Column("F"),
            "stand_temp": Column("H", "I", "Stand at (blank: in the boil)"),
        },
        [
            Result(at, title, _bitterness(method), "mg/L", BITTER, f"hop_{{n}}_{name}", total=f"bitterness_{name}")
            for at, (method, title, name) in zip("JKLM", METHODS, strict=True)
        ],
        "In all",
    )
    page.row += 1
    page.notes(
        '="Bitterness of a beer is surer within one method than between them: here from "&FIXED(bitterness_low,0,TRUE)'
        '&" to "&FIXED(bitterness_high,0,TRUE)&" mg/L. A hop stand has one model only, which all four sums share."',
        '="The mash-out counts "&FIXED(MASH_PASTEUR_UNITS(mash_mashout_time_in_min,mash_mashout_temp_in_C),0,TRUE)'
        '&" pasteurisation units: that kills no spores, so pitch the same day; it is not a reason to skip a boil."',
        "Boiling wort scalds and foams up: stay with it as it comes to the boil, and keep children and pets away.",
    )


def _inputs(block: Block) -> None:
    for section in ("batch", "kettle", "mash", "boil", "chill", "yeast"):
        block.inputs(section)


def _results(block: Block) -> None:
    block.section("Water")
    block.result(
        "water",
        "Brewing water in all",
        "=MASH_WATER(planned_preboil_volume_in_L,grain_in_kg,mash_absorption_in_L_kg,mash_loss_in_L)",
        units.Litre,
        "batch_volume_unit",
    )
    block.result(
        "strike_water",
        "of it for the mash",
        "=MIN(water_in_L,mash_ratio_in_L_kg*grain_in_kg)",
        units.Litre,
        "batch_volume_unit",
    )
    block.result(
        "sparge_water", "of it for the sparge", "=water_in_L-strike_water_in_L", units.Litre, "batch_volume_unit"
    )
    block.result(
        "strike_temp",
        "Strike water at",
        "=MASH_STRIKE_TEMP(mash_temp_in_C,mash_grain_temp_in_C,mash_ratio_in_L_kg)",
        units.Celsius,
        "mash_temp_unit",
        "The mash tun is left out: preheat it. Hot water scalds.",
    )
    block.section("Boil")
    block.result("boiling_temp", "Boils at", "=BOIL_TEMP(boil_altitude_in_m)", units.Celsius, "mash_temp_unit")
    block.result(
        "evaporated", "Boils off", "=BOIL_OFF(boil_rate_used,boil_time_in_min)", units.Litre, "batch_volume_unit"
    )
    block.result(
        "planned_preboil_volume",
        "Volume before the boil",
        "=WORT_PREBOIL_VOLUME(batch_volume_in_L,batch_gravity_in_SG,evaporated_in_L)",
        units.Litre,
        "batch_volume_unit",
        "Cold, at 20 °C.",
    )
    block.result(
        "planned_preboil_gravity",
        "Gravity before the boil",
        "=IF(grain_in_kg>0,WORT_MASH_GRAVITY(malts_kg,"
        "malts_extract,mash_efficiency,planned_preboil_volume_in_L),WORT_PREBOIL_GRAVITY(batch_volume_in_L,"
        "batch_gravity_in_SG,evaporated_in_L))",
        units.Gravity,
        "batch_gravity_unit",
        "What these malts give at this efficiency; without malts, what the gravity wanted needs.",
    )
    block.result(
        "hot_preboil_volume",
        "The same, boiling",
        "=WORT_VOLUME_AT(planned_preboil_volume_in_L,20,MIN(100,boiling_temp_in_C))",
        units.Litre,
        "batch_volume_unit",
    )
    block.state(
        "kettle_state",
        "Kettle",
        '=IF(hot_preboil_volume_in_L>kettle_size_in_L,"Look here: it does not fit",'
        'IF(hot_preboil_volume_in_L>0.85*kettle_size_in_L,"Look here: may boil over","Room enough"))',
        "Over 85 % full, foam may come over the rim (common practice, no source).",
    )
    block.result(
        "heat_used",
        "Heat into water and wort",
        "=BOIL_HEAT_ENERGY(water_in_L,chill_coolant_temp_in_C,"
        "mash_temp_in_C)+BOIL_HEAT_ENERGY(planned_preboil_volume_in_L,mash_temp_in_C,boiling_temp_in_C)+"
        "BOIL_EVAPORATION_ENERGY(evaporated_in_L)",
        units.KilowattHour,
        note="From water as cold as the cooling water; losses of the kettle come on top.",
    )
    block.section("Wort and beer")
    block.result(
        "original_gravity",
        "Original gravity",
        "=IF(grain_in_kg>0,WORT_POSTBOIL_GRAVITY("
        "planned_preboil_volume_in_L,planned_preboil_gravity_in_SG,evaporated_in_L),batch_gravity_in_SG)",
        units.Gravity,
        "batch_gravity_unit",
        "What these malts give; without malts, the gravity wanted.",
    )
    block.state(
        "gravity_state",
        "against the one wanted",
        "=IF(ABS(original_gravity_in_SG-batch_gravity_in_SG)<0.002,"
        '"As wanted",IF(original_gravity_in_SG<batch_gravity_in_SG,"Look here: more malt is needed",'
        '"Look here: less malt will do"))',
        "Within 0.002.",
    )
    block.result(
        "fermenter_volume_planned",
        "Into the fermenter",
        "=MAX(0,batch_volume_in_L-kettle_loss_in_L)",
        units.Litre,
        "batch_volume_unit",
    )
    block.result(
        "packaged_volume",
        "Beer to package",
        "=MAX(0,fermenter_volume_planned_in_L-kettle_fermenter_loss_in_L)",
        units.Litre,
        "batch_volume_unit",
    )
    block.result(
        "final_gravity",
        "Final gravity",
        "=BEER_FINAL(original_gravity_in_SG,yeast_attenuation)",
        units.Gravity,
        "batch_gravity_unit",
    )
    block.result("alcohol", "Alcohol by volume", "=BEER_ABV(original_gravity_in_SG,final_gravity_in_SG)", units.Share)
    block.result(
        "color",
        "Colour",
        "=IF(grain_in_kg>0,WORT_COLOR(malts_kg,malts_lovibond,batch_volume_in_L),0)",
        units.Ebc,
        'IF(malts_color_unit="EBC","EBC","SRM")',
    )
    block.section("Bitterness and DMS")
    block.result(
        "bitterness_low",
        "Bitterness, lowest method",
        "=MIN(bitterness_tinseth,bitterness_kinetic,bitterness_rager_smooth,bitterness_rager_table)",
        units.Bitterness,
    )
    block.result(
        "bitterness_high",
        "Bitterness, highest method",
        "=MAX(bitterness_tinseth,bitterness_kinetic,bitterness_rager_smooth,bitterness_rager_table)",
        units.Bitterness,
    )
    block.result(
        "balance",
        "Balance, by Tinseth",
        "=IF(original_gravity_in_SG>1,HOP_BALANCE(bitterness_tinseth,original_gravity_in_SG),0)",
        units.BitternessPerPoint,
        note="Bitterness per gravity point: about 0.3 tastes malty, 0.5 even, 1 bitter.",
    )
    block.result(
        "dms_planned",
        "DMS at pitching",
        _dms("dms_volatility"),
        units.MicrogramPerLitre,
        note="At the volatility set on the sheet Shorter boil.",
    )
    block.result("dms_low", "if DMS leaves easily (75)", _dms("75"), units.MicrogramPerLitre, look="value")
    block.result("dms_high", "if it leaves badly (18)", _dms("18"), units.MicrogramPerLitre, look="value")
    block.state(
        "dms_state",
        "DMS",
        '=IF(precursor_load=0,"No malt states its precursor",IF(dms_high<=dms_limit_in_ug_L,"Under the limit",'
        'IF(dms_planned<=dms_limit_in_ug_L,"Look here: uncertain","Look here: over the limit")))',
        "Uncertain: over the limit only where DMS leaves badly; papers disagree on that. Without the malts' DMS "
        "precursor nothing is known.",
    )


def _dms(volatility: str) -> str:
    return (
        "=DMS_AT_PITCH(precursor_load,boil_time_in_min,evaporation_share,chill_time_in_min,chill_cooling_in_per_min,"
        f"chill_coolant_temp_in_C,{volatility},dms_precursor_half_life_in_min,boiling_temp_in_C)"
    )


def _bitterness(method: str) -> str:
    return (
        '=IF(hop_{n}_stand_temp="",HOP_BITTERNESS(hop_{n}_mass_in_g,hop_{n}_alpha,hop_{n}_boiled,batch_volume_in_L,'
        f'hop_{{n}}_mean_gravity,"{method}",boiling_temp_in_C),HOP_STAND_BITTERNESS(hop_{{n}}_mass_in_g,hop_{{n}}_alpha,'
        "0+hop_{n}_time,hop_{n}_stand_temp_in_C,batch_volume_in_L))"
    )
