"""Plans for the model of a batch: written ones for what must come up, and drawn ones that differ in all inputs at once.

All of it is invented.
"""

from __future__ import annotations

import copy
import itertools
import math
import random
from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import Any

from brewfuncs import units
from brewfuncs.batch import demo
from brewfuncs.batch.inputs import Amount
from brewfuncs.batch.plan import Plan
from brewfuncs.batch.sections import SECTIONS, find_section
from tests import batch_physics as physics
from tests.batch_model import KINDS, Batch
from tests.batch_units import known
from tests.batch_water import Water

Tables = dict[str, Any]


def merged(base: Mapping[str, Any], *changes: Mapping[str, Any]) -> Tables:
    """Tables over tables; a list replaces a list."""
    found = copy.deepcopy(dict(base))
    for change in changes:
        for key, value in change.items():
            found[key] = found[key] | value if isinstance(value, dict) and key in found else copy.deepcopy(value)
    return found


#: an American double strength ale, by extract and sugar too, at altitude, brewed shorter; its hops stand
GRANITE: Tables = {
    "batch": {"name": "Granite Double", "date": "2026-05-02", "volume": "5.5 gal", "gravity": "1.082",
              "bitterness": 70, "bittering": "kinetic"},
    "kettle": {"size": "8 gal", "loss": "2 qt", "boil_off": "1.3 gal/h", "fermenter_loss": "1 qt", "topup": "0.4 gal"},
    "malts": [
        {"name": "Pale ale malt", "mass": "12 lb", "yield": "79 %", "color": "3 °L", "precursor": "1.5 mg/kg"},
        {"name": "Caramel malt", "mass": "12 oz", "color": "40 °L", "precursor": "0.4 mg/kg"},
        {"name": "Dry malt extract", "mass": "1 lb", "color": "4 °L", "precursor": "0.8 mg/kg"},
        {"name": "Candy sugar", "mass": "0.5 lb", "color": "0 °L", "goes": "fermenter"},
    ],
    "mash": {"efficiency": "68 %", "ratio": "1.4 qt/lb", "grain_temp": "64 °F", "temp": "152 °F",
             "mashout_temp": "168 °F", "mashout_time": 8, "absorption": "0.5 qt/lb", "loss": "1 qt",
             "sparge": "two batches"},
    "boil": {"time": 75, "altitude": "5280 ft"},
    "stand": {"time": 25, "temp": "180 °F", "boil_off": "0.2 gal/h"},
    "hops": [
        {"name": "Ostrane", "mass": "1.5 oz", "alpha": "13.5 %", "time": 75},
        {"name": "Velmark", "mass": "1 oz", "alpha": "7 %", "time": 30},
        {"name": "Tarrow", "mass": "2 oz", "alpha": "11 %", "time": 4},
        {"name": "Tarrow", "mass": "3 oz", "alpha": "11 %", "time": 25, "stand_temp": "180 °F"},
        # every row of the table filled, boiled and stood in turn, so that its last rows count too
        {"name": "Orlowen", "mass": "0.2 oz", "alpha": "5 %", "time": 60},
        {"name": "Orlowen", "mass": "0.3 oz", "alpha": "5 %", "time": 12, "stand_temp": "178 °F"},
        {"name": "Velmark", "mass": "0.25 oz", "alpha": "7 %", "time": 50},
        {"name": "Velmark", "mass": "0.15 oz", "alpha": "7.5 %", "time": 15},
        {"name": "Ostrane", "mass": "0.1 oz", "alpha": "13 %", "time": 8, "stand_temp": "172 °F"},
        {"name": "Ostrane", "mass": "0.12 oz", "alpha": "12.5 %", "time": 2},
        {"name": "Tarrow", "mass": "0.22 oz", "alpha": "10.5 %", "time": 18, "stand_temp": "175 °F"},
        {"name": "Tarrow", "mass": "0.18 oz", "alpha": "10 %", "time": 9},
    ],
    "chill": {"time": 28, "coolant_temp": "60 °F", "cooling": "0.07 /min"},
    "yeast": {"attenuation": "74 %"},
    "dms": {"limit": "60 µg/L", "volatility": 40, "precursor_half_life": 36},
    "shorter": {"time": 35, "brewed": "shorter", "old_style_precursor": "9 mg/kg"},
    "later": [{}, {"time": 20}],
    "instruments": {"hydrometer_temp": "60 °F", "refractometer_factor": 1.02},
    "fermentation": {"temp": "66 °F", "ramp_day": "5 d", "end_temp": "71 °F", "per_day": "1.5 Δ°F", "pitch_rate": 1},
    "package": {"kind": "keg", "target": "2.6 vol", "temp": "40 °F", "warmest": "86 °F", "rating": "60 psi"},
}  # fmt: skip
GRANITE_MEASURED: Tables = {
    "day": {
        "preboil_volume": "6.4 gal", "preboil_volume_temp": "150 °F", "preboil_gravity": "1.062",
        "preboil_gravity_temp": "90 °F", "boil_for": 45, "boil_start": "10:40", "midboil_minutes": 20,
        "midboil_volume": "6.2 gal", "midboil_volume_temp": "201 °F", "midboil_brix": 17.5, "boiled_minutes": 47,
        "postboil_volume": "5.8 gal", "postboil_volume_temp": "199 °F", "postboil_brix": 18.9,
        "extract_added": "0.3 lb", "stood_minutes": 31, "stood_temp": "176 °F", "chill_start_temp": "175 °F",
        "chill_end_temp": "70 °F", "chilled_minutes": 33, "fermenter_volume": "5.3 gal",
    },
    "fermented": {"warmest_temp": "72 °F", "package_volume": "5 gal"},
    "readings": [
        {"day": "2 d", "brix": 14.0}, {"day": "6 d", "brix": 11.2}, {"day": "9 d", "gravity": "1.024"},
        {"day": "12 d", "gravity": "1.0215", "gravity_temp": "68 °F"},
    ],
}  # fmt: skip
#: a small weak bitter in imperial units, covered, nothing known of its malt's precursor
HEDGE: Tables = {
    "batch": {"name": "Hedge Mild", "volume": "1.2 imp gal", "gravity": "1.031", "bittering": "rager smooth"},
    "kettle": {"size": "1.5 imp gal", "loss": "0.1 imp gal", "boil_off": "0.3 imp gal/h", "fermenter_loss": "0.5 pt"},
    "malts": [
        {"name": "Mild malt", "mass": "1.4 lb", "yield": "78 %", "color": "10 EBC"},
        {"name": "Chocolate malt", "mass": "1 oz", "yield": "68 %", "color": "900 EBC"},
        {"name": "Invert syrup", "mass": "2 oz", "color": "60 EBC"},
    ],
    "mash": {"efficiency": "80 %", "ratio": "2.5 L/kg", "mashout_time": 0},
    "boil": {"time": 40, "kettle": "covered"},
    "hops": [{"name": "Orlowen", "mass": "0.5 oz", "alpha": "4.5 %", "time": 40},
             {"mass": "0.02 oz", "alpha": "1.5 %", "time": 50}],
    "chill": {"time": 60, "coolant_temp": "68 °F", "cooling": "0.02 /min"},
    "shorter": {"time": 12, "brewed": "as found"},
    "package": {"kind": "bottles", "target": "1.6 vol", "sugar": "glucose monohydrate", "bottle": "500 mL"},
    "cleaning": {"acid_name": "A", "acid_label_dose": "1 fl oz", "acid_label_water": "4 gal", "acid_volume": "2 gal",
                 "acid_poured": "1 fl oz", "acid_share": "30 %", "acid_density": "1.18 kg/L",
                 "chlorine_label_dose": "2 mL", "chlorine_label_water": "1 L", "chlorine_volume": "5 L",
                 "chlorine_poured": "8 mL", "chlorine_share": "12 %"},
    "parts": [{"name": "Pot", "plastic": "aluminium", "chemistry": "caustic cleaner", "state": "contact"}],
}  # fmt: skip
#: a cubic metre of lager, in °P, from a malt with much precursor; too long a boil for nothing
QUARRY: Tables = {
    "batch": {"name": "Quarry Lager", "volume": "10 hL", "gravity": "11.8 °P", "bitterness": 24,
              "bittering": "rager table"},
    "kettle": {"size": "14 hL", "loss": "40 L", "boil_off": "90 L/h", "fermenter_loss": "25 L"},
    "malts": [{"name": "Pilsner malt", "mass": "185 kg", "yield": "80 %", "color": "3 EBC", "precursor": "9 mg/kg"},
              {"name": "Wheat", "mass": "12 kg", "color": "2 SRM", "precursor": "2 mg/kg"}],
    "mash": {"efficiency": "91 %", "ratio": "3.8 L/kg", "temp": "64 °C", "loss": "30 L", "sparge": "continuous"},
    "boil": {"time": 90, "altitude": "420 m"},
    "hops": [{"name": "Orlowen", "mass": "1.1 kg", "alpha": "4.2 %", "time": 80},
             {"name": "Orlowen", "mass": "0.8 kg", "alpha": "4.2 %", "time": 12}],
    "chill": {"time": 50, "coolant_temp": "8 °C", "cooling": "0.06 /min"},
    "yeast": {"attenuation": "82 %"},
    "dms": {"limit": "50 µg/L", "volatility": 70, "precursor_half_life": 38},
    "shorter": {"time": 50, "brewed": "shorter"},
    "fermentation": {"temp": "10 °C", "ramp_day": "7 d", "end_temp": "14 °C", "per_day": "1 K", "pitch_rate": 1.5},
    "package": {"kind": "bottles", "target": "3.4 vol", "warmest": "35 °C", "rating": "6 bar", "bottle": "330 mL"},
}  # fmt: skip
#: soft water, every kind of salt, an acid of its own for the sparge, and malts of every kind
SOFT_WATER: Tables = {
    "water": {"calcium": "0.8 mg/L", "magnesium": "0.5 mg/L", "sodium": "6 mg/L", "sulfate": "12 mg/L", "ph": 7.8,
              "chloride": "0 mg/L", "alkalinity": "34 mg/L", "chlorine": "1.2 mg/L",
              "metabisulfite": "potassium metabisulfite", "mash_ph": 5.35, "mash_acid": "phosphoric",
              "mash_acid_share": "10 %", "sparge_ph": 5.8, "sparge_acid": "lactic", "sparge_acid_share": "88 %",
              "sparge_acid_density": "1.21 kg/L"},
    "salts": [
        {"name": "gypsum", "mass": "1.5 g", "into": "mash"}, {"name": "calcium chloride anhydrous", "mass": "0.5 g"},
        {"name": "epsom salt", "mass": "1 g", "into": "both"},
        {"name": "table salt", "mass": "0.3 g", "into": "sparge"},
        {"name": "baking soda", "mass": "0.4 g", "into": "mash"}, {"name": "chalk", "mass": "0.2 g", "into": "sparge"},
        {"name": "magnesium chloride hexahydrate", "mass": "0.6 g", "into": "both"},
        {"name": "slaked lime", "mass": "0.35 g", "into": "mash"},
    ],
}  # fmt: skip
#: in American units, from its hardness, malts by every kind, one measured in part; no density, no mash pH wanted
GRANITE_WATER: Tables = {
    "malts": [
        {"name": "Pale ale malt", "mass": "8 lb", "color": "3 °L", "precursor": "1.5 mg/kg", "ph": 5.66},
        {"name": "Caramel malt", "mass": "12 oz", "color": "40 °L", "precursor": "0.4 mg/kg"},
        {"name": "Caramel malt, light", "mass": "6 oz", "color": "20 °L", "precursor": "0.4 mg/kg"},
        {"name": "Crystal malt, dark", "mass": "5 oz", "color": "60 °L", "precursor": "0.4 mg/kg", "buffering": 66},
        {"name": "Munich malt", "mass": "1 lb", "color": "9 °L", "precursor": "1 mg/kg"},
        {"name": "Vienna malt", "mass": "1 lb", "color": "4 °L", "precursor": "1 mg/kg", "kind": "pilsner"},
        {"name": "Chocolate malt", "mass": "3 oz", "color": "350 °L", "precursor": "0 mg/kg"},
        {"name": "Acidulated malt", "mass": "4 oz", "color": "3 °L", "precursor": "1 mg/kg"},
    ],
    "water": {"calcium": "70 mg/L", "hardness": "2.2 mmol/L CaCO3", "sodium": "20 mg/L", "chloride": "30 mg/L",
              "sulfate": "0.05 g/L", "alkalinity": "3 meq/L", "ph": 7.1, "mash_acid_mass": "0.1 oz",
              "mash_acid_share": "88 %", "sparge_ph": 6, "sparge_acid": "phosphoric"},
    "mashed": {"mash_ph_read": 5.5},
}  # fmt: skip
_READINGS: dict[str, list[Tables]] = {
    "steady": [{"day": "5 d", "gravity": "1.020"}, {"day": "12 d", "gravity": "1.0115"},
               {"day": "15 d", "gravity": "1.0115"}],
    "steady and high": [{"day": "5 d", "gravity": "1.021"}, {"day": "8 d", "gravity": "1.021"}],
    "falling": [{"day": "3 d", "gravity": "1.025"}, {"day": "5 d", "gravity": "1.018"}],
    "again": [{"day": "9 d", "gravity": "1.0115"}],
    "refractometer": [{"day": "5 d", "gravity": "1.015"}, {"day": "9 d", "brix": 6.4}],
    "undated": [{"gravity": "1.015"}],
    "disagreeing": [{"day": "8 d", "gravity": "1.010"}, {"day": "10 d", "brix": 7},
                    {"day": "10 d", "gravity": "1.014"}],
}  # fmt: skip
LANTERN = demo.LANTERN_PALE
_STRONG = {"preboil_volume": "24 L", "preboil_volume_temp": "20 °C", "preboil_gravity": "1.056",
           "preboil_gravity_temp": "20 °C"}  # fmt: skip
_THIN = {"preboil_volume": "27 L", "preboil_volume_temp": "65 °C", "preboil_gravity": "1.038",
         "preboil_gravity_temp": "20 °C"}  # fmt: skip
_AFTER = {"postboil_volume": "22 L", "postboil_volume_temp": "97 °C", "postboil_gravity": "1.055",
          "postboil_gravity_temp": "25 °C", "boiled_minutes": 62}  # fmt: skip

WRITTEN: dict[str, Tables] = {
    "pale": LANTERN,
    "pale, measured": merged(LANTERN, demo.LANTERN_PALE_MEASURED),
    "granite": GRANITE,
    "granite, measured": merged(GRANITE, GRANITE_MEASURED),
    "hedge": HEDGE,
    "hedge, warm and slow": merged(HEDGE, {"boil": {"kettle": "open"}, "stand": {"time": 40, "boil_off": "2.5 L/h"},
                                            "day": {"preboil_volume": "6 L", "preboil_volume_temp": "20 °C",
                                                    "preboil_gravity": "1.027", "preboil_gravity_temp": "20 °C"},
                                            "mash": {"efficiency": "93 %", "sparge": "three batches"}}),
    "quarry": QUARRY,
    "quarry, as found": merged(QUARRY, {"shorter": {"brewed": "as found"}, "mash": {"sparge": "four batches"}},
                               {"readings": _READINGS["steady"]}),
    "all the water in the mash": merged(LANTERN, {"mash": {"ratio": "9 L/kg", "efficiency": "88 %"}}),
    "hardly any water in the mash": merged(LANTERN, {"mash": {"ratio": "1.1 L/kg"}}),
    "strong, in one batch": merged(LANTERN, {"mash": {"efficiency": "87 %", "sparge": "one batch"}}),
    "strong, sparged somehow": merged(LANTERN, {"mash": {"efficiency": "87 %"}}),
    "nothing yet": {"batch": {"volume": "20 L", "gravity": "1.048"}, "kettle": {"boil_off": "4 L/h"},
                    "boil": {"time": 60}},
    "hops alone": {"batch": {"volume": "20 L", "gravity": "1.048"}, "kettle": {"boil_off": "4 L/h"},
                   "boil": {"time": 60}, "hops": LANTERN["hops"]},
    "four hours": merged(LANTERN, {"boil": {"time": 240}, "shorter": {"time": 238, "brewed": "shorter"},
                                   "hops": [{**LANTERN["hops"][0], "time": 240}, *LANTERN["hops"][1:]],
                                   "chill": {"time": 90, "cooling": "0.01 /min"}}),
    "two stands, the hotter for no time": merged(LANTERN, {"hops": [
        *LANTERN["hops"], {"name": "Tarrow", "mass": "20 g", "alpha": "9 %", "time": 0, "stand_temp": "88 °C"},
        {"name": "Tarrow", "mass": "20 g", "alpha": "9 %", "time": 15, "stand_temp": "74 °C"}]}),
    "no fermentation yet, by brix": merged(LANTERN, {"day": {"midboil_minutes": 75},
                                                     "readings": [{"day": "1 d", "brix": 14.2}]}),
    "a hop of no mass": merged(LANTERN, {"hops": [*LANTERN["hops"], {"name": "Orlowen", "mass": "0 g", "alpha": "5 %",
                                                                     "time": 20}]}),
    "longer than found": merged(LANTERN, {"boil": {"time": 45}, "shorter": {"time": 50}}),
    "how warm was it after the boil": merged(LANTERN, {"day": {"postboil_gravity": "1.052", "postboil_volume": "21 L",
                                                               "postboil_volume_temp": "20 °C"}}),
    "nine hops": merged(LANTERN, {"hops": [{"name": f"Hop {n}", "mass": "5 g", "alpha": "6 %", "time": 60 - 5 * n}
                                           for n in range(9)]}),
    "small doses": merged(LANTERN, {"boil": {"time": 46}, "dms": {"limit": "900 µg/L"}, "cleaning": {
        "acid_label_dose": "1.04 mL", "acid_label_water": "1 L", "acid_volume": "10.4 L", "acid_poured": "10.8 mL",
        "chlorine_label_dose": "1.04 mL", "chlorine_label_water": "1 L", "chlorine_volume": "10.4 L",
        "chlorine_poured": "12.5 mL"}}),
    "covered, without a precursor": merged(LANTERN, {"boil": {"kettle": "covered"}, "malts": [
        {**malt, "precursor": "0 mg/kg"} for malt in LANTERN["malts"]]}),
    "not boiled at all": merged(LANTERN, {"day": {**_THIN, "postboil_volume": "26 L", "postboil_volume_temp": "60 °C",
                                                  "postboil_gravity": "1.039", "postboil_gravity_temp": "20 °C",
                                                  "boiled_minutes": 0}}),
    "nothing to look at": merged(LANTERN, {"hops": [{"name": "Ostrane", "mass": "20 g", "alpha": "6 %", "time": 30}],
                                           "parts": [], "boil": {"time": 30}, "kettle": {"boil_off": "4 L/h"},
                                           "cleaning": {
                                               "acid_label_dose": "0.9 mL", "acid_label_water": "1 L",
                                               "acid_volume": "10.4 L", "acid_poured": "9.41 mL",
                                               "chlorine_label_dose": "0.9 mL", "chlorine_label_water": "1 L",
                                               "chlorine_volume": "10.4 L", "chlorine_poured": "9.32 mL"}}),
    "a kettle of no stated size": merged(LANTERN, {"kettle": {"size": None}, "cleaning": {
        "acid_label_dose": "1.04 mL", "acid_label_water": "1 L", "acid_volume": "10.4 L", "acid_poured": "12.5 mL",
        "chlorine_label_dose": "1.04 mL", "chlorine_label_water": "1 L", "chlorine_volume": "10.4 L",
        "chlorine_poured": "10.8 mL"}}),
    "late hops alone, at the very end": merged(LANTERN, {
        "chill": {"cooling": "0.02 /min"}, "dms": {"limit": "900 µg/L"},
        "hops": [{"name": "Velmark", "mass": "20 g", "alpha": "6 %", "time": 0}]}),
    # as long as the one found, and so quickly cold that nothing isomerises
    "not to be boiled": merged(LANTERN, {"boil": {"time": 0}, "shorter": {"time": 5}, "hops": LANTERN["hops"][:1],
                                         "dms": {"limit": "900 µg/L"},
                                         "chill": {"time": 0}}),
    "nothing leaves the kettle": merged(LANTERN, {"kettle": {"loss": "30 L", "topup": "0.6 L"}}),
    "without a chiller": merged(LANTERN, {"chill": {"cooling": "0 /min", "time": 7},
                                          "hops": [*LANTERN["hops"], {"name": "Velmark", "mass": "9 g", "alpha": "6 %",
                                                                      "time": 3}]}),
    "a stand hotter than the boil": merged(LANTERN, {"hops": [*LANTERN["hops"][:2], {
        **LANTERN["hops"][1], "mass": "30 g", "time": 20, "stand_temp": "101 °C"}]}),
    "a stand in the first row": merged(LANTERN, {"hops": [{**LANTERN["hops"][0], "stand_temp": "80 °C", "time": 20},
                                                          *LANTERN["hops"][1:]]}),
    "extract, and sugar alone in the mash": merged(LANTERN, {"malts": [
        {"name": "Dry malt extract", "mass": "3 kg", "color": "8 EBC", "precursor": "1 mg/kg"},
        {"name": "Candy sugar", "mass": "0.4 kg", "color": "2 EBC", "goes": "mash"}]}),
    "all of it into the fermenter": merged(LANTERN, {"malts": [{"name": "Candy sugar", "mass": "2.5 kg",
                                                                "color": "0 EBC", "goes": "fermenter"}]}),
    "too strong": merged(LANTERN, {"day": _STRONG, "readings": _READINGS["steady and high"]}),
    "too strong, pilsner": merged(demo.SLATE_PILSNER, {"day": _STRONG | _AFTER, "readings": _READINGS["falling"]}),
    "thin": merged(LANTERN, {"day": _THIN | {"midboil_minutes": 30, "midboil_brix": 10.5, "water_added": "1 L"},
                             "readings": _READINGS["again"]}),
    "thin, covered": merged(LANTERN, {"day": _THIN, "boil": {"kettle": "covered"}, "readings": _READINGS["undated"]}),
    "reading it by brix": merged(LANTERN, {"readings": _READINGS["refractometer"], "package": {"rating": "2 bar"}}),
    "hard water": demo.HARD_WATER,
    "hard water, read as estimated": merged(demo.HARD_WATER, {"mashed": {"mash_ph_read": 5.5}}),
    "hard water, acid of no strength": {
        **demo.HARD_WATER,
        "water": {key: value for key, value in demo.HARD_WATER["water"].items() if key != "mash_acid_share"},
    },
    "water by hardness": merged(LANTERN, {"water": {"magnesium": "9 mg/L", "hardness": "14 °dH", "sodium": "12 mg/L",
                                                    "alkalinity": "11 °dH", "chloride": "40 mg/L", "mash_ph": 5.4,
                                                    "ph": 7.3, "sparge_ph": 5.8, "mash_acid_share": "80 %"}}),
    "hard water, read high": merged(demo.HARD_WATER, {"mashed": {"mash_ph_read": 5.62}, "water": {"ph": 5.6}}),
    "hard water, no acid in it and read near": merged(demo.HARD_WATER, {"mashed": {"mash_ph_read": 5.45},
                                                                        "water": {"mash_acid_mass": "0 g"}}),
    "hard water, malts by kind, the sparge's own acid": merged(demo.HARD_WATER, {
        "malts": LANTERN["malts"], "mashed": {"mash_ph_read": 5.3},
        "water": {"mash_acid_mass": "14 g", "sparge_acid": "lactic", "sparge_acid_share": "60 %"}}),
    "hard water, read near": merged(demo.HARD_WATER, {"mashed": {"mash_ph_read": 5.45}}),
    "hard water, read not quite near": merged(demo.HARD_WATER, {"mashed": {"mash_ph_read": 5.46}}),
    "hard water, read low": merged(demo.HARD_WATER, {"mashed": {"mash_ph_read": 5.15}, "mash": {"ratio": "12 L/kg"}}),
    "soft water": merged(LANTERN, SOFT_WATER),
    "soft water, in °dH": merged(LANTERN, SOFT_WATER, {"water": {"magnesium": "4 mg/L", "hardness": "3.4 °dH",
                                                                 "alkalinity": "0 °dH", "distilled": "15 %",
                                                                 "calcium": "0 mg/L"}}),
    "water and no malts": merged({**LANTERN, "malts": []}, SOFT_WATER),
    "water and no mash": merged({**LANTERN, "malts": [{"name": "Dry extract", "mass": "3 kg"}]}, SOFT_WATER),
    "distilled water": merged(LANTERN, {"water": {"distilled": "100 %", "ph": 7, "sparge_ph": 5.6, "mash_ph": 5.9,
                                                  "mash_acid_share": "75 %", "mash_acid": "phosphoric"}}),
    "too little hardness": merged(LANTERN, {"water": {"hardness": "20 mg/L", "calcium": "40 mg/L", "mash_ph": 5.4,
                                                      "alkalinity": "1 meq/L", "sparge_ph": 5.5, "ph": 7}}),
    "water half known": merged(LANTERN, {"water": {"alkalinity": "80 mg/L", "mash_ph": 5.4, "sparge_ph": 5.6},
                                         "malts": [*LANTERN["malts"], {"name": "Rye", "mass": "0.2 kg"}],
                                         "salts": [{"name": "chalk", "mass": "1 g", "into": "sparge"}]}),
    "granite, water": merged(GRANITE, GRANITE_WATER),
    "a caramel malt of no colour": merged(LANTERN, SOFT_WATER, {"malts": [
        LANTERN["malts"][0], {"name": "Caramel malt", "mass": "0.4 kg", "precursor": "0.5 mg/kg"}]}),
    "a salt for no sparge": merged(LANTERN, {"mash": {"ratio": "12 L/kg"}, "water": SOFT_WATER["water"],
                                             "salts": [{"name": "gypsum", "mass": "0.8 g", "into": "sparge"}]}),
    "a salt for no mash": merged(LANTERN, {"malts": [{"name": "Dry extract", "mass": "3 kg"}],
                                           "water": SOFT_WATER["water"],
                                           "salts": [{"name": "gypsum", "mass": "0.8 g", "into": "mash"}]}),
    "reading it oddly": merged(LANTERN, {"readings": _READINGS["disagreeing"]}),
}  # fmt: skip


def drawn(seed: int) -> Tables:
    """Every input somewhere in its range, in any unit, read or not."""
    pick = random.Random(seed)
    number = pick.uniform

    def some(low: float, high: float, unit: str = "", decimals: int = 3) -> str:
        return f"{number(low, high):.{decimals}f} {unit}".strip()

    volume = number(4, 120)
    kettle_volume = volume * number(1.2, 1.6)
    gravity = number(1.035, 1.09)
    grain = volume * (gravity - 1) * 4.9  # roughly what it takes
    minutes = pick.randint(20, 100)
    metric = pick.random() < 0.5

    def litres(value: float) -> str:
        return f"{value:.3f} L" if metric else f"{value / 3.785411784:.3f} gal"

    malts = [
        {"name": "Pale malt", "mass": f"{grain * number(0.8, 1):.3f} kg", "yield": some(74, 82, "%"),
         "color": some(3, 12, "EBC"), "precursor": some(0.5, 9, "mg/kg")},
        {"name": pick.choice(["Crystal malt", "Roast barley", "Flaked oats", "Wheat"]),
         "mass": f"{grain * number(0.02, 0.1):.3f} kg", "color": some(20, 80, "EBC"), "precursor": some(0, 2, "mg/kg")},
        {"name": pick.choice(["White sugar", "Honey", "Liquid extract"]), "mass": f"{grain * number(0.01, 0.1):.3f} kg",
         "color": some(0, 10, "EBC"), "precursor": some(0, 1, "mg/kg"),
         "goes": pick.choice(["kettle", "fermenter", "mash"])},
    ]  # fmt: skip
    hops: list[Tables] = [
        {"name": f"Hop {n}", "mass": f"{volume * number(0.3, 2):.2f} g", "alpha": some(3, 16, "%"),
         "time": pick.randint(0, minutes)}
        for n in range(pick.randint(1, 6))
    ]  # fmt: skip
    hops[0]["time"] = minutes
    for _ in range(pick.randint(0, 2)):
        hops.append({"name": "Standing", "mass": f"{volume:.2f} g", "alpha": some(5, 14, "%"),
                     "time": pick.randint(5, 40), "stand_temp": some(70, 88, "°C")})  # fmt: skip
    day: Tables = {}
    for when, factor, rise in (("preboil", 1.15, -0.006), ("midboil", 1.08, -0.003), ("postboil", 1.0, 0.0)):
        if pick.random() < 0.75:
            day[f"{when}_volume"] = litres(volume * factor * number(0.97, 1.05))
            day[f"{when}_volume_temp"] = some(20, 99, "°C")
        if pick.random() < 0.6:
            day[f"{when}_gravity"] = f"{gravity + rise + number(-0.004, 0.004):.4f}"
            day[f"{when}_gravity_temp"] = some(15, 40, "°C")
        else:
            day[f"{when}_brix"] = f"{number(0.95, 1.05) * 1000 * (gravity + rise - 1) / 3.9:.2f}"
    day |= {"midboil_minutes": pick.randint(5, 20), "boiled_minutes": minutes + pick.randint(-4, 9)}
    if pick.random() < 0.5:
        day |= {"chill_start_temp": some(80, 95, "°C"), "chill_end_temp": some(24, 35, "°C"),
                "chilled_minutes": pick.randint(12, 40), "stood_minutes": pick.randint(0, 30),
                "stood_temp": some(70, 90, "°C"), "boil_start": f"{pick.randint(7, 23):02}:{pick.randint(0, 59):02}",
                "extract_added": some(0.05, 0.3, "kg"), "boil_for": minutes + pick.randint(-5, 10)}  # fmt: skip
    final = 1 + (gravity - 1) * number(0.2, 0.28)
    readings: list[Tables] = [
        {"day": f"{n} d", "gravity": f"{final + (gravity - final) * number(0, 1) / n:.4f}",
         "gravity_temp": some(16, 24, "°C"), "brix": round(1000 * (gravity - 1) / 3.9 * (0.5 + 0.8 / n), 2)}
        for n in (2, 5, 8, 12)
    ] + [{"day": f"{pick.randint(13, 16)} d", "gravity": f"{final:.4f}"}]  # fmt: skip
    temp = number(9, 20)
    acid: Tables = {
        "acid_label_dose": some(1, 3, "mL"), "acid_label_water": some(0.8, 1.5, "L"), "acid_volume": some(5, 30, "L"),
        "acid_share": some(20, 75, "%"), "acid_density": some(1.1, 1.5, "kg/L"),
        "alkalinity": some(0, 150, "mg/L"), "chlorine_label_dose": some(10, 25, "mL"),
        "chlorine_label_water": some(8, 12, "L"), "chlorine_volume": some(5, 25, "L"),
        "chlorine_share": some(3, 13, "%"), "chlorine_density": some(1.02, 1.2, "kg/L"),
        "chlorine_poured": some(5, 60, "mL"), "film": some(20, 100, "µm"), "area": some(0.2, 2, "m²"),
        "air_temp": some(10, 28, "°C"), "humidity": some(20, 80, "%"), "air_moves": some(5, 20),
    }  # fmt: skip
    if pick.random() < 0.6:
        acid |= {"acid_poured": some(5, 60, "mL"), "acid_solids": some(20, 60, "%"),
                 "acid_label_most": some(3, 5, "mL"), "chlorine_label_most": some(20, 30, "mL")}  # fmt: skip
    return {
        "batch": {"volume": litres(volume), "gravity": f"{gravity:.4f}", "date": "2026-02-01",
                  "bittering": pick.choice(["tinseth", "kinetic", "rager smooth", "rager table"])}
        | ({"bitterness": pick.randint(15, 80)} if pick.random() < 0.7 else {}),
        "kettle": {"size": litres(kettle_volume), "loss": litres(volume * number(0, 0.1)),
                   "boil_off": f"{volume * number(0.05, 0.25):.3f} L/h", "fermenter_loss": litres(volume * 0.03),
                   "topup": litres(pick.choice([0, volume * number(0.02, 0.2)]))},
        "malts": malts,
        "mash": {"efficiency": some(60, 90, "%"), "ratio": some(2.2, 4.5, "L/kg"), "grain_temp": some(5, 25, "°C"),
                 "temp": some(62, 69, "°C"), "mashout_temp": some(74, 79, "°C"), "mashout_time": pick.randint(0, 20),
                 "absorption": some(0.6, 1.2, "L/kg"), "loss": some(0, 1, "L")},
        "boil": {"time": minutes, "altitude": some(0, 2500, "m"),
                 "kettle": "covered" if pick.random() < 0.15 else "open"},
        "stand": {"boil_off": some(0, 1, "L/h")}
        | ({"time": pick.randint(0, 40), "temp": some(72, 90, "°C")} if pick.random() < 0.5 else {}),
        "hops": hops,
        "chill": {"time": pick.randint(8, 60), "coolant_temp": some(5, 22, "°C"), "cooling": some(0.03, 0.2, "/min")},
        "yeast": {"attenuation": some(68, 84, "%")},
        "dms": {"limit": some(30, 150, "µg/L"), "volatility": some(18, 75), "precursor_half_life": some(32, 41)},
        "shorter": {"time": pick.randint(10, minutes), "brewed": pick.choice(["as found", "shorter"]),
                    "old_style_precursor": some(5, 14, "mg/kg")},
        "instruments": {"hydrometer_temp": some(15, 20, "°C"), "refractometer_factor": some(1, 1.06)},
        "fermentation": {"temp": f"{temp:.2f} °C", "ramp_day": f"{pick.randint(2, 8)} d",
                         "end_temp": f"{temp + number(0.5, 4):.2f} °C", "per_day": some(0.5, 2, "K"),
                         "pitch_rate": some(0.5, 1.5)},
        "package": {"kind": pick.choice(["bottles", "keg"]), "target": some(1.5, 3.2, "vol"), "temp": some(1, 12, "°C"),
                    "sugar": pick.choice(["sucrose", "glucose", "maltose monohydrate"]), "bottle": some(300, 750, "mL"),
                    "warmest": some(20, 35, "°C")} | ({"rating": some(2, 8, "bar")} if pick.random() < 0.5 else {}),
        "cleaning": acid,
        "day": day,
        "readings": readings,
    }  # fmt: skip


#: yeast dry, as slurry, and as slurry that was counted without a stain
_YEASTS: tuple[Tables, ...] = (
    {"cells_per_gram": 12},
    {"cells_per_gram": 6.5, "slurry_density": "850 million/mL", "slurry_viability": "87 %"},
    {"slurry_density": "1.4 billion/mL"},
)


def drawn_water(seed: int) -> Tables:
    """The same for what the sheet Water asks, to go with a drawn plan."""
    pick = random.Random(1000 + seed)
    number = pick.uniform

    def some(low: float, high: float, unit: str = "", decimals: int = 3) -> str:
        return f"{number(low, high):.{decimals}f} {unit}".strip()

    salts = pick.sample(sorted(physics.SALTS), pick.randint(1, 8))
    return {
        "water": {"calcium": some(10, 120, "mg/L"), "sodium": some(1, 60, "mg/L"), "chloride": some(2, 90, "mg/L"),
                  "sulfate": some(2, 150, "mg/L"), "alkalinity": some(10, 300, "mg/L HCO3"), "ph": some(6.8, 8.2),
                  "chlorine": some(0.1, 2, "mg/L"), "distilled": some(0, 90, "%"), "mash_ph": some(5.1, 5.6),
                  "mash_acid": pick.choice(["lactic", "phosphoric"]), "mash_acid_share": some(10, 88, "%"),
                  "mash_acid_density": some(1.02, 1.7, "kg/L"), "mash_acid_mass": some(0, 8, "g"),
                  "sparge_ph": some(5.2, 6.2)}
        | pick.choice([{"magnesium": some(1, 20, "mg/L")}, {"hardness": some(20, 30, "°dH")}])
        | pick.choice([{}, {"sparge_acid": pick.choice(["lactic", "phosphoric"]),
                            "sparge_acid_share": some(10, 88, "%"), "sparge_acid_density": some(1.02, 1.7, "kg/L")}]),
        "salts": [{"name": salt, "mass": some(0.1, 3, "g"), "into": pick.choice(["mash", "sparge", "both"])}
                  for salt in salts],
    } | ({"mashed": {"mash_ph_read": some(5.1, 5.9)}} if pick.random() < 0.5 else {})  # fmt: skip


def plans() -> Iterator[tuple[str, Plan]]:
    for name, tables in WRITTEN.items():
        yield name, Plan.of(tables, measured=True)
    half = Plan.of(merged(LANTERN, SOFT_WATER), measured=True)
    half.rows["salts"][2]["mass"] = None  # as it may stand in the workbook: a plan file's rows are whole
    yield "a salt without its mass", half
    for seed in range(6):
        more = drawn_water(seed) if seed % 2 else {"yeast": _YEASTS[seed % 3]}
        yield f"drawn {seed}", Plan.of(merged(drawn(seed), more), measured=True)
    yield from malts_by_name()
    yield from edges()
    for section, key, row in (("hops", "time", 0), ("hops", "alpha", 1), ("hops", "mass", 0), ("malts", "mass", 1)):
        plan = Plan.of(LANTERN)
        del plan.rows[section][row][key]
        yield f"{section} without {key}", plan
    yield from on_the_limit()
    yield from histories()
    yield from readings_of_a_boil()
    for start, end, minutes in (("175 °F", "59 °F", 33), ("175 °F", "60 °F", 33), (None, "55 °F", None),
                                ("70 °F", "75 °F", 33), ("70 °F", "70 °F", 33), (None, "75 °F", 33)):  # fmt: skip
        day = {"chill_start_temp": start, "chill_end_temp": end, "chilled_minutes": minutes}
        read = {key: value for key, value in day.items() if value is not None}
        tables = merged(GRANITE, {"day": read})
        yield f"chilled from {start} to {end} with water of 60 °F", Plan.of(tables, measured=True)
    for seed in range(6):
        tables = drawn(100 + seed)
        tables["hops"][0]["time"] -= 0.5  # converted there and back, as long as the boil is a hair longer than the boil
        yield f"in any units {seed}", in_any_units(Plan.of(tables, measured=True), seed)
    for seed in range(18):
        plan = Plan.of(half_blank(seed), measured=True)
        for row in [*plan.rows.get("hops", []), *plan.rows.get("malts", [])] if seed % 3 == 0 else ():
            for key in [key for key in row if random.Random(f"{seed} {key} {row}").random() < 0.12]:
                del row[key]  # a plan file must have it; a cell may be cleared
        yield f"half of it blank {seed}", plan


def malts_by_name() -> Iterator[tuple[str, Plan]]:
    """Every word that tells a malt's kind, for its extract and for its pH; and words of two kinds in one name, of which
    the first of them in the list tells."""
    names = []
    for kinds in (KINDS, Water.KINDS):
        words = [kind[1] for kind in kinds if kind[1] != ("",)]
        names += [word for group in words for word in group]
        names += [f"{later[0]} {sooner[-1]}" for sooner, later in itertools.pairwise(words)]
    names = list(dict.fromkeys([*names, "mild malt"]))  # which no word tells
    for start in range(0, len(names), 8):
        malts = [{"name": name.capitalize(), "mass": "0.5 kg", "color": f"{30 + 10 * n} EBC", "precursor": "1 mg/kg"}
                 for n, name in enumerate(names[start : start + 8])]  # fmt: skip
        yield f"malts by name {start // 8}", Plan.of(merged(LANTERN, SOFT_WATER, {"malts": malts}), measured=True)


#: (day, gravity) as a hydrometer reads it, of a wort of 1.050 that is to end at 1.011
_HISTORIES: tuple[tuple[tuple[float, float], ...], ...] = (
    ((1, 1.0512),), ((0, 1.0495),), ((0.5, 1.048),), ((8, 1.011),), ((0, 1.050), (8, 1.011)),
    ((8, 1.0116), (10, 1.0113)), ((8, 1.01137), (10, 1.0110)), ((8, 1.0120), (10, 1.0115), (12, 1.0110)),
    ((8, 1.011), (9.9, 1.011)), ((8, 1.011), (8.5, 1.011)), ((6, 1.014), (8, 1.011), (9, 1.011)),
    ((8, 1.0100), (10, 1.0110)), ((8, 1.0099), (10, 1.0110)), ((8, 1.011), (10, 1.011), (10, 1.013)),
    ((8, 1.0115), (10, 1.0115)), ((8, 1.0117), (10, 1.0117)), ((8, 1.0090), (10, 1.0090)), ((8, 1.0089), (10, 1.0089)),
    ((8, 1.0089), (14, 1.0089)), ((8, 1.0089), (15.5, 1.0089)), ((8, 1.0111), (9, 1.0111), (9.5, 1.011)),
)  # fmt: skip


def histories() -> Iterator[tuple[str, Plan]]:
    """What readings of a fermentation tell, closed in one way or another: each is one more state of the package."""
    closed: tuple[Tables, ...] = (
        {"kind": "bottles", "target": "2.4 vol", "rating": "6 bar", "bottle": "500 mL", "warmest": "30 °C"},
        {"kind": "keg", "target": "2.6 vol", "rating": "1.5 bar", "warmest": "25 °C"},
        {"kind": "bottles", "target": "0.6 vol", "rating": "6 bar"},
        {"kind": "bottles", "target": "2.9 vol", "warmest": "14 °C"},
        {"kind": "keg", "target": "4.9 vol", "rating": "20 bar"},
        {"kind": "bottles", "target": "5 vol", "warmest": "18 °C"},
    )
    for n, history in enumerate(_HISTORIES):
        readings = [{"day": f"{day} d", "gravity": f"{gravity:.5f}"} for day, gravity in history]
        fermented: Tables = {"fermenter_gravity": "1.050", "fast_ferment_gravity": "1.011"}
        if n % 5 == 4:
            fermented |= {"warmest_temp": "23 °C", "package_volume": "18.5 L"}
        yield (
            f"history {n}",
            Plan.of(
                merged(_BALANCED, {"fermented": fermented, "readings": readings, "package": closed[n % len(closed)]}),
                measured=True,
            ),
        )


def readings_of_a_boil() -> Iterator[tuple[str, Plan]]:
    """Too weak to too strong, before the boil and in it; where hops leave no shorter boil, and where nothing does."""
    early = _BALANCED["hops"][0]
    # more than the 60 min planned; where much boils off, three minutes are more than a gravity may be off
    for minutes, hop_time, volume, rate in (
        (29.6, 60, 23, 3),
        (30.4, 60, 23, 3),
        (-2.6, 18, 32, 14),
        (-3.4, 18, 32, 14),
    ):
        changes = {"hops": [{**early, "time": hop_time}], "dms": {"limit": "200 µg/L"},
                   "kettle": {"boil_off": f"{rate} L/h"}}  # fmt: skip
        tables = merged(_BALANCED, changes)
        wanted = Batch(Plan.of(tables | {"day": {}}, measured=True))["kettle_wanted"]
        gone = rate * (60 + minutes) / 60
        gravity = physics.bisected(lambda g: physics.with_water(volume, g, -gone)[1] - wanted, 1.001, 1.2)  # noqa: B023
        tables["day"] = {"preboil_volume": f"{volume} L", "preboil_volume_temp": "20 °C",
                         "preboil_gravity": f"{gravity:.9f}", "preboil_gravity_temp": "20 °C"}  # fmt: skip
        yield f"{minutes} min from the gravity wanted", Plan.of(tables, measured=True)
    for n, gravity in enumerate((1.030, 1.038, 1.0415, 1.0434, 1.0446, 1.0462, 1.0485, 1.055)):
        for when in ("before", "in"):
            day: Tables = {"preboil_volume": "23 L", "preboil_volume_temp": "20 °C",
                           "preboil_gravity": f"{gravity}", "preboil_gravity_temp": "20 °C"}  # fmt: skip
            if when == "in":
                day |= {"midboil_minutes": 20, "midboil_volume": "22 L", "midboil_volume_temp": "20 °C",
                        "midboil_gravity": f"{gravity + 0.002}"}  # fmt: skip
            if when == "in" and n % 4:
                day["midboil_gravity_temp"] = "20 °C"
            tables = merged(
                _BALANCED,
                {
                    "hops": [{**early, "time": 60 if n % 2 else 18}],
                    "boil": {"kettle": "covered" if when == "in" and n == 1 else "open"},
                },
            )
            tables["day"] = day
            tables["dms"] = {"limit": "200 µg/L"}
            yield f"read {when} the boil {n}", Plan.of(tables, measured=True)


def on_the_limit() -> Iterator[tuple[str, Plan]]:
    """On the very limit of every range that an input is compared with."""
    for name, end in (("low", 0), ("high", 1)):
        tables = merged(
            _BALANCED,
            {
                "mash": {"efficiency": ("50 %", "95 %")[end]},
                "hops": [
                    {**_BALANCED["hops"][0], "alpha": ("2 %", "20 %")[end]},
                    {**_BALANCED["hops"][1], "time": (20, 45)[end]},
                    {**_BALANCED["hops"][2], "time": 15},
                    {"name": "Fourth", "mass": "10 g", "alpha": "5 %", "time": (0, 12)[end]},
                ],
                "boil": {"time": (60, 15)[end]},
                "shorter": {"time": 15, "brewed": ("shorter", "as found")[end]},
                "package": {"kind": ("bottles", "keg")[end], "target": "3 vol"},
                "day": {"boil_for": (15, 18)[end], "midboil_minutes": (0, 15)[end], "midboil_volume": "22 L",
                        "midboil_volume_temp": "98 °C", "midboil_brix": 12.1},
            },
        )  # fmt: skip
        for key in ("postboil_volume", "postboil_volume_temp", "postboil_gravity_temp"):
            del tables["day"][key]
        yield f"on the limit, {name}", Plan.of(tables, measured=True)


def with_water(plan: Plan) -> Plan:
    """The same plan in a workbook with the sheet Water, where nothing is stated of it yet."""
    empty = Plan.empty(with_optional=True)
    return replace(plan, values=empty.values | plan.values, rows=empty.rows | plan.rows)


def in_any_units(plan: Plan, seed: int) -> Plan:
    """The same plan, each input in any of the units that its cell takes, blank or not."""
    pick = random.Random(seed)
    values, rows, symbols = dict(plan.values), copy.deepcopy(plan.rows), dict(plan.units)
    for section in SECTIONS:
        for item in section.inputs:
            if not item.unit_choices or (section.optional and not plan.has_water):
                continue
            unit = pick.choice([unit for unit in item.unit_choices if known(unit, item.quantity.symbol)])
            for n in section.numbers:
                symbols[section.name(item.key, n)] = unit
            if not section.rows:
                key = f"{section.key}.{item.key}"
                values[key] = _in_unit(values.get(key), unit)
            for row in rows.get(section.key, []) if section.rows else []:
                row[item.key] = _in_unit(row.get(item.key), unit)
    return Plan(values, rows, symbols)


def _in_unit(value: Any, unit: str) -> Any:
    return Amount(units.convert(value.number, value.unit, unit), unit) if isinstance(value, Amount) else value


#: sections of which some plans have nothing at all
_WHOLE = ("malts", "hops", "readings", "day", "fermented", "cleaning", "parts", "later")


def half_blank(seed: int) -> Tables:
    """A plan of which any part that may be blank may be blank."""
    pick = random.Random(seed)
    tables = drawn(220 + seed) | (drawn_water(220 + seed) if seed % 2 else {})
    tables["fermented"] = {"fermenter_gravity": "1.0467", "fast_ferment_gravity": "1.0103", "warmest_temp": "21.5 °C",
                           "package_volume": "19.3 L"}  # fmt: skip
    tables["later"] = [{"time": pick.randint(1, 20)} for _ in tables["hops"]]
    tables["parts"] = _any_parts(pick)
    tables["cleaning"]["alkalinity"] = "18 mg/L"  # more could use up the acid that is poured: then no pH is answered
    # a fast and long chill is good for a hundred thousandth, not for a millionth, by kernel and by model
    tables["chill"] |= {"time": pick.randint(8, 40), "cooling": f"{pick.uniform(0.03, 0.09):.3f} /min"}
    for section in SECTIONS:
        content = tables.get(section.key)
        if content is None:
            continue
        if section.key in _WHOLE and pick.random() < 0.15:
            del tables[section.key]
            continue
        for row in content if isinstance(content, list) else [content]:
            share = pick.choice((0, 0.1, 0.3, 0.6))
            for key in list(row):
                if not section.find(key).required and pick.random() < share:
                    del row[key]
    return tables


def _any_parts(pick: random.Random) -> list[Tables]:
    """What parts are made of, what they meet and how: any of it, blanks as well."""
    section = find_section("parts")
    keys = ("plastic", "chemistry", "state")
    return [
        {"name": f"Part {n}"} | {key: pick.choice(section.find(key).words) for key in keys}
        for n in range(pick.randint(1, 8))
    ]


#: a plan on which every rule can stand on either side of its limit; numbers in base units
_BALANCED: Tables = {
    "batch": {"volume": "20 L", "gravity": "1.050", "bittering": "tinseth"},
    "kettle": {"size": "36 L", "loss": "1 L", "boil_off": "3 L/h", "fermenter_loss": "1 L"},
    "malts": [{"name": "Pale malt", "mass": "4.3 kg", "yield": "79 %", "color": "6 EBC", "precursor": "3 mg/kg"}],
    "mash": {"efficiency": "75 %"},
    "boil": {"time": 60},
    "hops": [
        {"name": "First", "mass": "30 g", "alpha": "8 %", "time": 60},
        {"name": "Second", "mass": "20 g", "alpha": "6 %", "time": 20},
        {"name": "Third", "mass": "20 g", "alpha": "6 %", "time": 15},
    ],
    "chill": {"time": 20, "coolant_temp": "15 °C", "cooling": "0.1 /min"},
    "yeast": {"attenuation": "77 %"},
    "shorter": {"time": 30},
    "fermentation": {"temp": "19 °C", "end_temp": "21 °C"},
    "cleaning": {"acid_label_dose": "1.6 mL", "acid_label_water": "1 L", "acid_volume": "20 L", "acid_share": "50 %",
                 "acid_density": "1.3 kg/L", "acid_poured": "32 mL", "chlorine_label_dose": "2 mL",
                 "chlorine_label_water": "1 L", "chlorine_volume": "10 L", "chlorine_share": "5 %",
                 "chlorine_poured": "20 mL"},
    "day": {"preboil_volume": "23 L", "preboil_volume_temp": "20 °C", "preboil_gravity": "1.045",
            "preboil_gravity_temp": "20 °C", "postboil_volume": "20.1 L", "postboil_volume_temp": "20 °C",
            "postboil_gravity_temp": "20 °C", "boiled_minutes": 60},
    "readings": [{"day": "4 d", "gravity": "1.030"}, {"day": "8 d", "gravity": "1.0115"},
                 {"day": "10 d", "gravity": "1.0115"}],
}  # fmt: skip


def edges() -> Iterator[tuple[str, Plan]]:
    """Just inside and just outside of every limit at once, the two ends of each range in turn."""
    for name, side in (("inside", -1), ("outside", 1)):
        for end in (-1, 1):
            yield f"just {name}, {'low' if end < 0 else 'high'}", Plan.of(_at_the_edge(side, end), measured=True)


def _at_the_edge(side: int, end: int) -> Tables:
    """`side`: 1 beyond the limit, -1 within it; `end`: which end of the ranges."""
    little = 1e-4 * side

    def share(low: float, high: float) -> str:
        return f"{100 * (low - little if end < 0 else high + little):.4f} %"

    def near(value: float, by: float) -> float:
        return value + end * (by + 0.01 * by * side)

    efficiency, alpha = share(0.5, 0.95), share(0.02, 0.2)
    tables = merged(
        _BALANCED,
        {"mash": {"efficiency": efficiency}, "malts": [{**_BALANCED["malts"][0], "mass": "5 kg"}]},
        {
            "hops": [
                {**_BALANCED["hops"][0], "alpha": alpha},
                {**_BALANCED["hops"][1], "time": (20 if end < 0 else 45) + end * (side + 1) // 2},
                {**_BALANCED["hops"][2], "time": 15 + (side + 1) // 2},
                {"name": "Hot", "mass": "10 g", "alpha": "5 %", "time": 10, "stand_temp": f"{100.4 + 0.05 * side} °C"},
            ]
        },
    )
    model = Batch(Plan.of(tables, measured=True))
    # the gravity wanted half again what a hydrometer tells from the one that comes out, and the same after the boil
    tables["batch"]["gravity"] = f"{near(model['pitch_gravity_planned'], 0.0015):.7f}"
    tables["kettle"]["boil_off"] = f"{_boil_off(model, 0.04 - little if end < 0 else 0.2 + little):.7f} L/h"
    model = Batch(Plan.of(tables, measured=True))
    tables["kettle"]["size"] = f"{model['hot_preboil_volume_in_L'] / (0.85 + little):.5f} L"
    tables["batch"]["bitterness"] = f"{near(model['bitterness_planned'], 0.05 * model['bitterness_planned']):.5f}"
    # five minutes above 80 °C
    hot = model["boiling_temp_in_C"]
    tables["chill"]["cooling"] = f"{math.log((hot - 15) / (80 - 15)) / (5 + little * 100):.7f} /min"
    tables["stand"] = {"time": 0}
    tables["shorter"]["time"] = 15 - (side + 1) // 2 if end < 0 else 40
    tables["shorter"]["brewed"] = "shorter" if end < 0 else "as found"
    # extract after the boil against before
    before = physics.extract(23, 1.045)
    off = 1 + end * (0.03 + little)
    tables["day"]["postboil_gravity"] = f"{physics.gravity_of_extract(before * off, 20.1):.7f}"
    model = Batch(Plan.of(tables, measured=True))
    limit = model["dms_planned_high" if end < 0 else "dms_planned_low"]
    tables["dms"] = {"limit": f"{limit * (1 - little):.6f} µg/L"}
    # a tenth off the label's dose, a thousandth over its most, and as much carbonation as is known to be safe
    poured = 1 + end * (0.1 + little)
    tables["cleaning"] |= {"acid_poured": f"{32 * poured:.5f} mL", "acid_label_most": f"{1.6 * 1.2:.4f} mL",
                           "chlorine_poured": f"{20 * (1.001 + little):.6f} mL"}  # fmt: skip
    # the mash's pH as read, and a salt that burns
    tables["water"] = {"distilled": "100 %"}
    tables["salts"] = [{"name": "slaked lime" if side > 0 else "gypsum", "mass": "0.2 g", "into": "mash"}]
    tables["mashed"] = {"mash_ph_read": (5.2 if end < 0 else 5.6) + end * little}
    tables["fermentation"]["end_temp"] = f"{21 - 0.001 * side} °C"
    tables["package"] = {"kind": "bottles", "target": f"{3 + 0.001 * side} vol"}
    if end > 0:
        tables["package"]["rating"] = "4 bar"
        model = Batch(Plan.of(tables, measured=True))
        if model["pressure_warmest_in_bar"] is not None:
            tables["package"]["rating"] = f"{model['pressure_warmest_in_bar'] * (1 - little):.6f} bar"
    return tables


def _boil_off(model: Batch, hourly: float) -> float:
    """L/h that are this share of the mean volume in the kettle."""

    def share(rate: float) -> float:
        volume = physics.with_water(20, model["kettle_gravity"], rate * model["brewed_minutes"] / 60)[0]
        return rate / ((volume + 20) / 2) - hourly

    return physics.bisected(share, 0.1, 30)
