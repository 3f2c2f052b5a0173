"""Brew day: what is measured, the forecast that follows from it, and what to do about it.

A reading that isn't taken leaves the plan's value in force; formulas read the "used" cells alone.
"""

from __future__ import annotations

from brewfuncs import units
from brewfuncs.batch.sheet import Block, Draft
from brewfuncs.batch.sheets.workings import Workings

__all__ = ["build"]


def build(book: Draft, workings: Workings) -> None:
    page = book.page("Brew day", "Brew day", row_height=18)  # there is room to write by hand
    page.notes(
        "Write a reading into its cell; while it is blank the grey value stands in: the plan's, or what earlier "
        "readings lead to. A blank temperature is 20 °C.",
    )
    page.row += 1
    left, right = page.columns()
    left.section("Before the boil")
    _reading(left, "preboil", "planned_preboil_volume_in_L", "planned_preboil_gravity_in_SG")
    _before(right)
    page.skip_to(left, right)
    left, right = page.columns()
    gone = "BOIL_OFF(boil_rate_used,midboil_minutes_used)"
    left.section("In the boil")
    left.measurement("day.midboil_minutes", '=IF(midboil_minutes="",0,{x})')
    _reading(left, "midboil", f"WORT_POSTBOIL_VOLUME(preboil_volume_used,preboil_gravity_used,{gone})",
             f"WORT_POSTBOIL_GRAVITY(preboil_volume_used,preboil_gravity_used,{gone})")  # fmt: skip
    _during(right)
    page.skip_to(left, right)
    left, right = page.columns()
    left.section("After the boil")
    _reading(
        left, "postboil", f"WORT_POSTBOIL_VOLUME({_MIDBOIL},{_LEFT})", f"WORT_POSTBOIL_GRAVITY({_MIDBOIL},{_LEFT})"
    )
    left.measurement("day.boiled_minutes", '=IF(boiled_minutes="",boil_time_in_min,{x})')
    _after(right)
    page.skip_to(left, right)
    left, right = page.columns()
    _chill(left)
    _in_fermenter(right)
    page.skip_to(left, right)
    left, right = page.columns()
    left.section("Instruments")
    left.input("instruments.hydrometer_temp")
    left.input("instruments.refractometer_factor")
    _carry(right)
    page.skip_to(left, right)
    page.notes(
        "Boiling wort scalds: stay with the kettle as it comes to the boil, leave room for the foam, and lift no full "
        "kettle. Read volumes from a safe distance; let a sample cool before reading it.",
        "Extract before and after the boil should agree within 3 % (common practice, no source): where it does not, "
        "one of the four readings is off, and the forecasts with it.",
    )
    workings.cells(
        "Brew day",
        {
            "preboil_measured": ('=AND(preboil_volume<>"",OR(preboil_gravity<>"",preboil_brix<>""))', "General"),
            "postboil_measured": ('=AND(postboil_volume<>"",OR(postboil_gravity<>"",postboil_brix<>""))', "General"),
            "actual_rate": (
                "=IF(AND(preboil_measured,postboil_measured,boiled_minutes_used>0),MAX(0,preboil_volume_used*"
                "preboil_gravity_used-postboil_volume_used*postboil_gravity_used)/(boiled_minutes_used/60),"
                "boil_rate_used)",
                "0.00",
            ),
            "actual_evaporation": (
                "=MIN(0.4,actual_rate/((preboil_volume_used+postboil_volume_used)/2))",
                "0.0 %",
            ),
            "actual_cooling": (
                '=IF(AND(chill_start_temp<>"",chill_end_temp<>"",chilled_minutes<>""),BOIL_COOLING(chill_start_temp_used,'
                "chill_end_temp_used,chilled_minutes_used,chill_coolant_temp_in_C),chill_cooling_in_per_min)",
                "0.000",
            ),
        },
    )


def _reading(block: Block, when: str, volume: str, gravity: str) -> None:
    """Volume and gravity at one point of the brew day; `volume` and `gravity` stand in while they aren't read."""
    block.measurement(
        f"day.{when}_volume", f'=IF({when}_volume="",{volume},WORT_VOLUME_AT({{x}},{when}_volume_temp_used,20))'
    )
    block.measurement(f"day.{when}_volume_temp", f'=IF({when}_volume_temp="",20,{{x}})')
    block.measurement(
        f"day.{when}_gravity",
        f'=IF({when}_gravity<>"",WORT_HYDROMETER({{x}},{when}_gravity_temp_used,'
        f'instruments_hydrometer_temp_in_C),IF({when}_brix<>"",{when}_brix_used,{gravity}))',
    )
    block.measurement(f"day.{when}_gravity_temp", f'=IF({when}_gravity_temp="",20,{{x}})')
    block.measurement(
        f"day.{when}_brix",
        f'=IF({when}_brix="","",WORT_REFRACTOMETER({{x}},instruments_refractometer_factor))',
        units.Gravity,
    )


#: the wort as last read in the boil, and the water that leaves it until the boil's end
_MIDBOIL = "midboil_volume_used,midboil_gravity_used"
_LEFT = "BOIL_OFF(boil_rate_used,MAX(0,boiled_minutes_used-midboil_minutes_used))"


def _before(block: Block) -> None:
    block.section("Forecast before the boil")
    _forecast(block, "before", "preboil", "boil_time_in_min")
    block.line(
        '=IF(AND(preboil_volume="",preboil_gravity="",preboil_brix=""),"Nothing measured yet: this is the plan.",'
        + _advice("before", "boil_time_in_min")
        + ")",
        "answer",
        "advice_before",
    )


def _during(block: Block) -> None:
    block.section("Forecast in the boil")
    _forecast(block, "during", "midboil", "MAX(0,boil_time_in_min-midboil_minutes_used)")
    block.line(
        '=IF(midboil_minutes="","Not measured yet.",'
        + _advice("during", "MAX(0,boil_time_in_min-midboil_minutes_used)")
        + ")",
        "answer",
        "advice_during",
    )


def _forecast(block: Block, stage: str, reading: str, minutes: str) -> None:
    """What a boil of so many minutes more leads to, and how long it takes to the gravity wanted."""
    wort = f"{reading}_volume_used,{reading}_gravity_used"
    block.result(f"{stage}_volume", "Volume, boiled as planned", f"=WORT_POSTBOIL_VOLUME({wort},BOIL_OFF("
                 f"boil_rate_used,{minutes}))", units.Litre, "batch_volume_unit")  # fmt: skip
    block.result(f"{stage}_gravity", "Gravity, boiled as planned", f"=WORT_POSTBOIL_GRAVITY({wort},BOIL_OFF("
                 f"boil_rate_used,{minutes}))", units.Gravity, "batch_gravity_unit")  # fmt: skip
    block.result(f"{stage}_minutes", "Boil for the gravity wanted", f"=IF({reading}_gravity_used>="
                 f'batch_gravity_in_SG,0,IF(OR(boil_rate_used=0,{reading}_gravity_used<=1),"",BOIL_MINUTES({wort},'
                 "batch_gravity_in_SG,boil_rate_used)))", units.Minute, "boil_time_unit",
                 "From this reading on. Blank for a covered kettle: gravity never rises.", blank=True)  # fmt: skip
    _correction(block, stage, f"{stage}_volume_in_L", f"{stage}_gravity_in_SG")


def _advice(stage: str, planned: str) -> str:
    """What to do about it, in a sentence: minutes, water or extract."""
    needed, water, extract = f"{stage}_minutes_in_min", f"{stage}_water_to_add", f"{stage}_extract_to_add"
    return (
        f'IF({needed}="","Covered: only water or extract change the gravity.",IF(ABS({needed}-{planned})<3,'
        f'"Boil as planned.",IF({needed}>{planned},"Boil "&FIXED({needed}-{planned},0,TRUE)&" min longer than planned, '
        f'or add "&FIXED({extract},2,TRUE)&" "&{extract}_unit&" of extract.","Boil "&FIXED({planned}-{needed},0,TRUE)&'
        f'" min less than planned, or add "&FIXED({water},1,TRUE)&" "&{water}_unit&" of water.")))'
    )


def _correction(block: Block, when: str, volume: str, gravity: str) -> None:
    """What brings a wort to the gravity wanted: water, or extract."""
    block.result(
        f"{when}_water_to_add",
        "Water to add at the end",
        f"=IF(AND({gravity}>batch_gravity_in_SG,"
        f"batch_gravity_in_SG>1),WORT_WATER_TO_ADD({volume},{gravity},batch_gravity_in_SG),0)",
        units.Litre,
        "batch_volume_unit",
        "Boiled or clean brewing water.",
    )
    block.result(
        f"{when}_extract_to_add",
        "or dry extract",
        f"=IF({gravity}<batch_gravity_in_SG,WORT_EXTRACT_TO_ADD({volume},{gravity},batch_gravity_in_SG),0)",
        units.Kilogram,
        "malts_mass_unit",
        "Stir it into boiling wort with the heat off: it foams up.",
    )


def _after(block: Block) -> None:
    block.section("Forecast after the boil")
    block.result(
        "extract_change",
        "Extract after against before",
        "=IF(AND(preboil_measured,postboil_measured,"
        "preboil_gravity_used>1),WORT_EXTRACT(postboil_volume_used,postboil_gravity_used)/WORT_EXTRACT("
        'preboil_volume_used,preboil_gravity_used)-1,"")',
        units.Share,
        number="+0.0 %;-0.0 %;0.0 %",
        note="Boiling takes water away and leaves the extract.",
    )
    block.state(
        "reading_state",
        "Readings",
        '=IF(extract_change="","Not both measured yet",IF(ABS('
        "extract_change)>0.03,"
        '"Look here: repeat a reading","They agree"))',
        "Within 3 % (common practice, no source).",
    )
    _correction(block, "final", "postboil_volume_used", "postboil_gravity_used")
    block.result(
        "final_bitterness",
        "Bitterness by Tinseth",
        "=bitterness_tinseth*batch_volume_in_L/postboil_volume_used",
        units.Bitterness,
        note="The plan's, in the volume that came out.",
    )
    block.result(
        "final_alcohol",
        "Alcohol to expect",
        "=BEER_ABV(postboil_gravity_used,BEER_FINAL(postboil_gravity_used,yeast_attenuation))",
        units.Share,
    )
    block.line(
        '=IF(NOT(postboil_measured),"Not measured yet: this is the forecast.",IF(ABS(postboil_gravity_used-'
        'batch_gravity_in_SG)<0.0015,"As wanted: nothing to add.",IF(postboil_gravity_used>batch_gravity_in_SG,"Add "&'
        'FIXED(final_water_to_add,1,TRUE)&" "&final_water_to_add_unit&" of water, or keep it stronger.","Add "&FIXED('
        'final_extract_to_add,2,TRUE)&" "&final_extract_to_add_unit&" of extract, boil on, or leave it.")))',
        "answer",
        "advice_after",
    )


def _chill(block: Block) -> None:
    block.section("Chill")
    block.measurement("day.chill_start_temp", '=IF(chill_start_temp="",boiling_temp_in_C,{x})')
    block.measurement("day.chill_end_temp", '=IF(chill_end_temp="","",{x})')
    block.measurement("day.chilled_minutes", '=IF(chilled_minutes="",chill_time_in_min,{x})')
    block.measurement(
        "day.fermenter_volume", '=IF(fermenter_volume="",MAX(0,postboil_volume_used-kettle_loss_in_L),{x})'
    )


def _in_fermenter(block: Block) -> None:
    block.section("In the fermenter")
    dms = (
        "=DMS_AT_PITCH(precursor_load*batch_volume_in_L/postboil_volume_used,boiled_minutes_used,actual_evaporation,"
        "chilled_minutes_used,actual_cooling,chill_coolant_temp_in_C,{v},dms_precursor_half_life_in_min,boiling_temp_in_C)"
    )
    block.result("final_dms", "DMS at pitching", dms.replace("{v}", "dms_volatility"), units.MicrogramPerLitre)
    block.result(
        "final_dms_low", "if DMS leaves easily (75)", dms.replace("{v}", "75"), units.MicrogramPerLitre, look="value"
    )
    block.result(
        "final_dms_high", "if it leaves badly (18)", dms.replace("{v}", "18"), units.MicrogramPerLitre, look="value"
    )
    block.result(
        "final_packaged",
        "Beer to package",
        "=MAX(0,fermenter_volume_used-kettle_fermenter_loss_in_L)",
        units.Litre,
        "batch_volume_unit",
    )


def _carry(block: Block) -> None:
    block.section("For the next batch")
    block.result(
        "measured_efficiency",
        "Extract reached the kettle",
        "=IF(AND(preboil_measured,grain_in_kg>0),"
        'WORT_EFFICIENCY(malts_kg,malts_extract,preboil_volume_used,preboil_gravity_used),"")',
        units.Share,
        note="Blank until volume and gravity before the boil are measured.",
    )
    block.result(
        "measured_boil_rate",
        "Boiled off in an hour",
        '=IF(AND(preboil_measured,postboil_measured,boiled_minutes<>""),actual_rate,"")',
        units.LitreAnHour,
        "kettle_boil_off_unit",
        "Blank until both ends of the boil and its minutes are measured.",
        blank=True,
    )
    block.result(
        "measured_cooling",
        "Cooling constant",
        '=IF(AND(chill_start_temp<>"",chill_end_temp<>"",chilled_minutes<>""),actual_cooling,"")',
        units.PerMinute,
        note="Blank until both temperatures and the time between are measured.",
    )
    block.note("A new workbook made --like this one starts with them.")
