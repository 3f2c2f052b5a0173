"""Brew day: what is measured, the forecast that follows from it, and what to do about it.

A reading that isn't taken leaves the plan's value in force; formulas read the "used" cells alone.
"""

from __future__ import annotations

from brewfuncs import units
from brewfuncs.workbook.sheet import Block, Book
from brewfuncs.workbook.sheet_workings import Workings

__all__ = ["build"]


def build(book: Book, workings: Workings) -> None:
    page = book.page("Brew day", "Brew day")
    page.notes(
        "Write a reading into its cell; while it is blank the grey value stands in: the plan's, or what earlier "
        "readings lead to. A blank temperature is 20 °C.",
    )
    page.row += 1
    left, right = page.columns()
    _reading(left, "preboil", "Before the boil", "planned_preboil_volume_in_L", "planned_preboil_gravity_in_SG")
    _before(right)
    page.skip_to(left, right)
    left, right = page.columns()
    _reading(left, "postboil", "After the boil", "forecast_volume_in_L", "forecast_gravity_in_SG")
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


def _reading(block: Block, when: str, title: str, volume: str, gravity: str) -> None:
    """Volume and gravity at one point of the brew day."""
    block.section(title)
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


def _before(block: Block) -> None:
    block.section("Forecast before the boil")
    block.result(
        "forecast_volume",
        "Volume, boiled as planned",
        "=WORT_POSTBOIL_VOLUME(preboil_volume_used,preboil_gravity_used,BOIL_OFF(boil_rate_used,boil_time_in_min))",
        units.Litre,
        "batch_volume_unit",
    )
    block.result(
        "forecast_gravity",
        "Gravity, boiled as planned",
        "=WORT_POSTBOIL_GRAVITY(preboil_volume_used,preboil_gravity_used,BOIL_OFF(boil_rate_used,boil_time_in_min))",
        units.Gravity,
        "batch_gravity_unit",
    )
    block.result(
        "minutes_to_target",
        "Boil for the gravity wanted",
        "=IF(preboil_gravity_used>=batch_gravity_in_SG,0,"
        'IF(OR(boil_rate_used=0,preboil_gravity_used<=1),"",BOIL_MINUTES(preboil_volume_used,'
        "preboil_gravity_used,batch_gravity_in_SG,boil_rate_used)))",
        units.Minute,
        "boil_time_unit",
        "Blank for a covered kettle, where gravity never rises.",
        blank=True,
    )
    _correction(block, "planned", "forecast_volume_in_L", "forecast_gravity_in_SG")
    block.line(
        '=IF(AND(preboil_volume="",preboil_gravity="",preboil_brix=""),"Nothing measured yet: this is the plan.",'
        'IF(minutes_to_target_in_min="","The kettle is covered: only water or extract will change the gravity.",'
        'IF(ABS(minutes_to_target_in_min-boil_time_in_min)<3,"Boil as planned.",IF(minutes_to_target_in_min>'
        'boil_time_in_min,"Boil "&FIXED(minutes_to_target_in_min-boil_time_in_min,0,TRUE)&" min longer, or add "'
        '&FIXED(planned_extract_to_add,2,TRUE)&" "&planned_extract_to_add_unit&" of extract.","Boil "&FIXED('
        'boil_time_in_min-minutes_to_target_in_min,0,TRUE)&" min shorter, or add "&FIXED(planned_water_to_add,1,TRUE)'
        '&" "&planned_water_to_add_unit&" of water."))))',
        "answer",
        "advice_before",
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
