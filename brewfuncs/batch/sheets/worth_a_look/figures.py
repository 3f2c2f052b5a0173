"""What the rules read that no other sheet works out, on Workings."""

from __future__ import annotations

from brewfuncs.batch import thresholds
from brewfuncs.batch.sheets.workings import Workings

__all__ = ["BOIL_MEASURED", "work_out"]

BOIL_MEASURED = 'measured_boil_rate_in_L_h<>""'
_LOW_ALPHA, _HIGH_ALPHA = thresholds.USUAL_ALPHA
_EARLY_FLAVOUR, _LATE_FLAVOUR = thresholds.FLAVOUR_HOPS


def work_out(workings: Workings) -> None:
    """Which hops and parts the rules mean, and single figures, each cell by its name."""
    acids = ",".join(
        f'part_{{n}}_chemistry="{acid}"' for acid in ("acid anionic", "phosphoric acid", "iodophor", "peracetic acid")
    )
    workings.rows(
        "hops",
        "Worth a look: hops in the boil that is brewed (minutes, -1 for none), and which of them are what",
        {
            "hop_{n}_in_boil": ("=IF(OR(hop_{n}_counts=0,hop_{n}_stands=1),-1,brew_{n}_minutes)", "0"),
            "hop_{n}_flavour": (
                f"=IF(AND(hop_{{n}}_in_boil>={_EARLY_FLAVOUR},hop_{{n}}_in_boil<={_LATE_FLAVOUR},hop_{{n}}_in_boil<earliest_hop),1,0)",
                "0",
            ),
            "hop_{n}_late": (f"=IF(AND(hop_{{n}}_in_boil>=0,hop_{{n}}_in_boil<={thresholds.LATE_HOPS}),1,0)", "0"),
            "hop_{n}_odd_alpha": (
                f"=IF(hop_{{n}}_counts=0,0,IF(OR(hop_{{n}}_alpha<{_LOW_ALPHA:g},hop_{{n}}_alpha>{_HIGH_ALPHA:g}),1,0))",
                "0",
            ),
            "hop_{n}_too_long": (
                "=IF(OR(hop_{n}_counts=0,hop_{n}_stands=1),0,IF(0+hop_{n}_time>boil_time_in_min,1,0))",
                "0",
            ),
        },
        {
            "hop_{n}_in_boil": "hops_in_boil",
            "hop_{n}_flavour": "hops_flavour",
            "hop_{n}_late": "hops_late",
            "hop_{n}_odd_alpha": "hops_odd_alpha",
            "hop_{n}_too_long": "hops_too_long",
        },
    )
    workings.rows(
        "parts",
        "Worth a look: parts of acetal that acid soaks or dries on, of stainless steel that chlorine stays on, of "
        "aluminium that meet caustic",
        {
            "part_{n}_acetal": (
                f'=IF(AND(OR(part_{{n}}_plastic="acetal",part_{{n}}_plastic="POM"),OR({acids}),OR('
                f'part_{{n}}_state="soaked",'
                'part_{n}_state="dried")),1,0)',
                "0",
            ),
            "part_{n}_steel": (
                '=IF(AND(part_{n}_plastic="stainless steel",part_{n}_chemistry="chlorine",'
                'part_{n}_state<>"rinsed"),1,0)',
                "0",
            ),
            "part_{n}_caustic": (
                '=IF(AND(part_{n}_plastic="aluminium",OR(part_{n}_chemistry="caustic cleaner",'
                'part_{n}_chemistry="percarbonate cleaner")),1,0)',
                "0",
            ),
        },
        {"part_{n}_acetal": "parts_acetal", "part_{n}_steel": "parts_steel", "part_{n}_caustic": "parts_caustic"},
    )
    hot = thresholds.HOT_WORT
    numbers = {
        "flavour_count": ("=SUM(hops_flavour)", "0"),
        "flavour_row": ("=IF(flavour_count=0,1,MATCH(1,hops_flavour,0))", "0"),
        "flavour_time": ("=INDEX(hops_in_boil,flavour_row)", "0"),
        "flavour_name": (
            "=INDEX(hops_label,flavour_row)",
            "General",
        ),
        "late_count": ("=SUM(hops_late)", "0"),
        "odd_alpha_count": ("=SUM(hops_odd_alpha)", "0"),
        "too_long_count": ("=SUM(hops_too_long)", "0"),
        # after BOIL_COOLING over one minute: the cooling constant times the minutes down to 80 °C
        "minutes_hot": (
            f"=IF(stand_at>{hot},stand_minutes,0)+IF(boiling_temp_in_C<={hot},0,IF(chill_cooling_in_per_min=0,"
            f"chill_time_in_min,MIN(chill_time_in_min,BOIL_COOLING(boiling_temp_in_C,{hot},1,chill_coolant_temp_in_C)/chill_cooling_in_per_min)))",
            "0.0",
        ),
        "parts_count": ('=COUNTIF(parts_plastic,"?*")', "0"),
        "acetal_count": ("=SUM(parts_acetal)", "0"),
        "steel_count": ("=SUM(parts_steel)", "0"),
        "caustic_count": ("=SUM(parts_caustic)", "0"),
        "temp_rise": (
            '=UNIT_CONVERT(fermentation_end_temp_in_C-fermentation_temp_in_C,"K",fermentation_per_day_unit)',
            "0.0",
        ),
        "temp_rise_wanted": (f'=UNIT_CONVERT({thresholds.RISE_HELPS},"K",fermentation_per_day_unit)', "0.0"),
        # evaporation_share is cut at the 40 % that the DMS functions answer
        "evaporation_an_hour": (
            f"=IF({BOIL_MEASURED},measured_boil_rate_in_L_h/((preboil_volume_used+postboil_volume_used)/2),"
            "boil_rate_used/((brewed_preboil_volume+batch_volume_in_L)/2))",
            "0.0%",
        ),
        "look_count": ('=COUNTIF(rules_state,"look here")', "0"),
        "uncertain_count": ('=COUNTIF(rules_state,"uncertain")', "0"),
        "unknown_count": ('=COUNTIF(rules_state,"unknown")', "0"),
        "failing_count": ('=COUNTIF(rules_state,"in error")', "0"),
    }
    workings.cells("Worth a look", numbers)
