"""What the day gives: the wort after the boil, the wort in the fermenter, and the figures for the next batch."""

from __future__ import annotations

from brewfuncs import units
from brewfuncs.batch import thresholds
from brewfuncs.batch.block import Block
from brewfuncs.batch.sheets.brew_day.advice import correction
from brewfuncs.batch.sheets.brew_day.balance import COOLED
from brewfuncs.batch.sheets.brew_day.layout import Day
from brewfuncs.batch.sheets.recipe import METHODS, unless_unknown
from brewfuncs.batch.wording import amount, cell, look, number, pick, say

__all__ = ["after_the_boil", "chill", "for_the_next_batch", "in_the_fermenter"]


def after_the_boil(day: Day) -> None:
    block = day.right
    block.result(
        "extract_change",
        "Extract after against before",
        "=IF(AND(preboil_measured=1,postboil_measured=1,preboil_gravity_used>1),WORT_EXTRACT(postboil_volume_used,"
        'postboil_gravity_used)/WORT_EXTRACT(preboil_volume_used,preboil_gravity_used)-1,"")',
        units.Share,
        number="+0.0 %;-0.0 %;0.0 %",
        note="Boiling takes water away and leaves the extract.",
    )
    block.state(
        "reading_state",
        "Readings",
        "="
        + pick(
            ('extract_change=""', say("not both taken yet")),
            (f"ABS(extract_change)>{thresholds.EXTRACT_AGREES:g}", look("repeat a reading")),
            otherwise=say("they agree"),
        ),
        f"Within {100 * thresholds.EXTRACT_AGREES:g} % (common practice, no source).",
    )
    correction(block, "final", "postboil_volume_used", "postboil_gravity_used")
    gravity = "postboil_gravity_used"
    day.advice(
        "advice_after",
        pick(
            ('malts_unknown<>""', "malts_unknown"),
            ("postboil_measured=0", say("Not both read yet: this is the forecast.")),
            (f"ABS({gravity}-kettle_wanted)<{thresholds.GRAVITY_NEAR:g}", say("As wanted: nothing to add.")),
            ('OR(water_added<>"",extract_added<>"")',
             say("Made up to ", amount("final_volume", 1), " at ", number("made_up_gravity", 3), ".")),
            (f"{gravity}>kettle_wanted",
             say("Add ", amount("final_water_to_add", 1), " of water, or keep it stronger.")),
            otherwise=say("Stir in ", amount("final_extract_to_add", 2), " of dry extract off the heat, or leave it."),
        ),
        2,
    )  # fmt: skip
    block.result(
        "final_volume",
        "with what was added",
        unless_unknown("malts_unknown", "made_up_volume"),
        units.Litre,
        "batch_volume_unit",
        blank=True,
    )
    block.result(
        "final_gravity_made",
        "its gravity",
        unless_unknown("malts_unknown", "made_up_gravity"),
        units.Gravity,
        "batch_gravity_unit",
        blank=True,
    )
    bitterness = ",".join(f"SUM(final_{name})" for _, _, name in METHODS)
    day.bases["final_bitterness_low"] = (unless_unknown("hops_unknown", f"MIN({bitterness})"), "0")
    day.bases["final_bitterness_high"] = (unless_unknown("hops_unknown", f"MAX({bitterness})"), "0")
    block.result(
        "final_bitterness",
        "Bitterness",
        unless_unknown("hops_unknown", f"CHOOSE(method_number,{bitterness})"),
        units.Bitterness,
        note="mg/L, which is IBU, by the model chosen on the plan, with the minutes really boiled.",
        blank=True,
    )
    block.line(
        "="
        + pick(
            ('hops_unknown<>""', '""'),
            otherwise=say(number("final_bitterness_low"), " to ", number("final_bitterness_high"), " by four models"),
        ),
        "unit",
    )


def chill(day: Day) -> None:
    day.reading("stood_minutes", "stand_minutes")
    day.reading("stood_temp", "stand_at")
    day.reading("chill_start_temp", "stood_temp_used")
    day.reading("chill_end_temp")
    day.reading("chilled_minutes", "chill_time_in_min")
    day.reading("fermenter_volume", "pitch_volume_now")
    day.ask(
        "chill_asks",
        "="
        + pick(
            ('chill_end_read=""', '""'),
            (
                "chill_end_read<=chill_coolant_temp_in_C",
                look("no wort cools as far as its cooling water: ", amount("chill_coolant_temp", 1), " on the plan."),
            ),
            ('chill_start_temp=""', '""'),
            ("chill_end_read>chill_start_temp_used", look("warmer at the end than when chilling began.")),
        ),
    )


def in_the_fermenter(day: Day) -> None:
    block = day.right
    block.result("final_dms", "DMS at pitching", "=day_dms", units.MicrogramPerLitre, blank=True)
    block.line(
        "="
        + pick(
            ('precursor_unknown<>""', say("DMS unknown: ", cell("precursor_unknown"))),
            otherwise=say(number("day_dms_low"), " to ", number("day_dms_high"), " as papers part"),
        ),
        "unit",
    )
    block.result(
        "pitch_gravity",
        "Original gravity",
        unless_unknown("malts_unknown", "pitch_gravity_now"),
        units.Gravity,
        "batch_gravity_unit",
        "In the fermenter: topped up, and with what is added there.",
        blank=True,
    )
    block.result(
        "final_alcohol",
        "Alcohol to expect",
        unless_unknown("malts_unknown", "BEER_ABV(pitch_gravity_now,BEER_FINAL(pitch_gravity_now,yeast_attenuation))"),
        units.Share,
    )
    block.result(
        "pitch_cells",
        "Yeast to pitch",
        unless_unknown("malts_unknown", "BEER_PITCH(fermenter_volume_used,pitch_gravity_now,fermentation_pitch_rate)"),
        units.BillionCells,
        blank=True,
    )
    block.result(
        "final_packaged",
        "Beer to package",
        unless_unknown("malts_unknown", "MAX(0,fermenter_volume_used-kettle_fermenter_loss_in_L)"),
        units.Litre,
        "batch_volume_unit",
        blank=True,
    )


def for_the_next_batch(block: Block) -> None:
    block.result(
        "measured_efficiency",
        "Extract reached the kettle",
        "=IF(AND(preboil_measured=1,grain_in_kg>0),MAX(0,WORT_EXTRACT(preboil_volume_used,preboil_gravity_used)-"
        '(kettle_extract-mash_extract))/SUMPRODUCT(malts_mash_kg,malts_extract),"")',
        units.Share,
        note="Of the mash. Blank until volume and gravity before the boil are measured.",
    )
    block.result(
        "measured_boil_rate",
        "Boiled off in an hour",
        '=IF(AND(preboil_measured=1,postboil_measured=1,boiled_minutes<>""),actual_rate,"")',
        units.LitreAnHour,
        "kettle_boil_off_unit",
        "Blank until both ends of the boil and its minutes are measured.",
        blank=True,
    )
    block.result(
        "measured_cooling",
        "Cooling constant",
        f'=IF({COOLED},actual_cooling,"")',
        units.PerMinute,
        note="Blank until both temperatures and the time between are measured.",
    )
    block.note("A new workbook made --like this one starts with them.")
