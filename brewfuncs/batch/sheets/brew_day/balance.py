"""Behind the brew day, on Workings: minutes and rates as measured, and the balance of mass and extract to pitching."""

from __future__ import annotations

from brewfuncs.batch import thresholds
from brewfuncs.batch.sheets.recipe import Course, after_boil_cells
from brewfuncs.batch.sheets.workings import Workings
from brewfuncs.batch.wording import pick, say

__all__ = ["COOLED", "COURSE", "work_out"]

#: the hot side as it was measured, as far as it was
COURSE = Course(
    "boiled_minutes_used",
    "actual_evaporation",
    "day_load",
    "stood_minutes_used",
    "stood_at",
    "chilled_minutes_used",
    "actual_cooling",
)
#: whether the chill was read, and nothing speaks against it
COOLED = 'AND(chill_start_temp<>"",chill_end_temp<>"",chilled_minutes<>"",chill_asks="")'


def work_out(workings: Workings) -> None:
    """What the sheet's figures are worked out from, each cell by its name."""
    density = "WATER_DENSITY(20)"
    added = 'IF({0}="",0,UNIT_CONVERT({0},{0}_unit,"{1}"))'
    water, extract = added.format("water_added", "L"), added.format("extract_added", "kg")
    cells = {
        "boil_minutes_now": ("=boil_for_used", "0"),
        "midboil_minutes_used": ('=IF(midboil_minutes="",0,UNIT_CONVERT(midboil_minutes,midboil_minutes_unit,"min"))',
                                 "0"),
        "minutes_to_go": ("=MAX(0,boil_minutes_now-midboil_minutes_used)", "0"),
        **{
            f"{when}_measured": (f'=IF(AND({when}_volume_read<>"",{when}_gravity_read<>""),1,0)', "0")
            for when in ("preboil", "postboil")
        },
        # the shortest boil that may be advised, and why
        "earliest_hop": ("=MAX(0,hops_in_boil)", "0"),
        "shortest_boil": (
            f'=MIN(brewed_minutes,MAX({thresholds.SHORTEST_BOIL},earliest_hop,IF(boil_needed="",brewed_minutes,'
            "boil_needed)))",
            "0",
        ),
        "shortest_boil_reason": (
            "="
            + pick(
                ('boil_needed=""', say("the plan has, as how long the malt needs isn't known")),
                ("AND(boil_needed>=earliest_hop,boil_needed>=shortest_boil)", say("DMS asks for")),
                ("earliest_hop>=shortest_boil", say("the first hops need")),
                otherwise=say("a boil needs at least"),
            ),
            "General",
        ),
        "actual_rate": (
            "=IF(AND(preboil_measured=1,postboil_measured=1,boiled_minutes_used>0),MAX(0,preboil_volume_used*"
            "preboil_gravity_used-postboil_volume_used*postboil_gravity_used)/(boiled_minutes_used/60),"
            "boil_rate_used)",
            "0.00",
        ),
        "actual_evaporation": (
            f"=MIN({thresholds.EVAPORATION_ANSWERED:g},actual_rate/((preboil_volume_used+postboil_volume_used)/2))",
            "0.0 %",
        ),
        "chill_end_read": ('=IF(chill_end_temp="","",UNIT_CONVERT(chill_end_temp,chill_end_temp_unit,"°C"))', "0.0"),
        "actual_cooling": (
            f"=IF({COOLED},BOIL_COOLING(chill_start_temp_used,chill_end_read,chilled_minutes_used,"
            "chill_coolant_temp_in_C),chill_cooling_in_per_min)",
            "0.000",
        ),
        # by conservation of mass and extract: the wort with what was added, and what the fermenter gets of it
        "made_up_mass": (
            f"=postboil_volume_used*postboil_gravity_used*{density}+{water}*{density}+{extract}",
            "0.00",
        ),
        "made_up_extract": (f"=WORT_EXTRACT(postboil_volume_used,postboil_gravity_used)+{extract}", "0.000"),
        "made_up_gravity": (
            '=IF(AND(water_added="",extract_added=""),postboil_gravity_used,WORT_GRAVITY(100*made_up_extract/'
            "made_up_mass))",
            "0.0000",
        ),
        "made_up_volume": (f"=made_up_mass/(made_up_gravity*{density})", "0.00"),
        "sent_volume_now": ("=MAX(0,made_up_volume-kettle_loss_in_L)", "0.00"),
        "pitch_mass_now": (
            f"=sent_volume_now*made_up_gravity*{density}+kettle_topup_in_L*{density}+fermenter_fermentables_in_kg",
            "0.00",
        ),
        "pitch_gravity_now": (
            "=IF(AND(kettle_topup_in_L=0,fermenter_fermentables_in_kg=0),made_up_gravity,"
            "WORT_GRAVITY(100*(WORT_EXTRACT(sent_volume_now,made_up_gravity)+fermenter_extract)/pitch_mass_now))",
            "0.0000",
        ),
        "pitch_volume_now": (f"=pitch_mass_now/(pitch_gravity_now*{density})", "0.00"),
        "final_wort_volume": (
            "=IF(sent_volume_now=0,made_up_volume,made_up_volume*pitch_volume_now/sent_volume_now)",
            "0.00",
        ),
        "stood_at": ("=IF(stood_minutes_used=0,boiling_temp_in_C,MIN(boiling_temp_in_C,stood_temp_used))", "0.0"),
        "day_load": ("=precursor_load*wort_volume/final_wort_volume", "0"),
    }  # fmt: skip
    workings.cells("Brew day", cells)
    workings.cells("Brew day: DMS, and what the hot time after the boil is worth", COURSE.cells("day_dms"))
    workings.cells("Brew day: the hot time after the boil", after_boil_cells(COURSE, "real_"))
