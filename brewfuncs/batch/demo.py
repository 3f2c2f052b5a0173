"""The invented batches that workbooks start with and that the examples show: no real brewery, hop or product.

Written as a plan file is, so that docs, tests and the built-in demo read the same thing.
"""

from __future__ import annotations

from typing import Any

__all__ = ["HARD_WATER", "LANTERN_PALE", "LANTERN_PALE_MEASURED", "SLATE_PILSNER"]

_CLEANING = {
    "acid_name": "Acid sanitizer A", "acid_label_dose": "25 mL", "acid_label_water": "10 L", "acid_volume": "20 L",
    "acid_share": "30 %", "acid_density": "1.18 kg/L", "acid_solids": "32 %", "alkalinity": "80 mg/L",
    "chlorine_name": "Chlorine sanitizer B", "chlorine_label_dose": "20 mL", "chlorine_label_water": "10 L",
    "chlorine_volume": "10 L", "chlorine_share": "5 %", "chlorine_density": "1.08 kg/L",
    "film": "50 µm", "area": "0.6 m²", "air_temp": "19 °C", "humidity": "60 %",
}  # fmt: skip
_PARTS = [
    {"name": "Fermenter", "plastic": "HDPE", "chemistry": "acid anionic", "state": "contact"},
    {"name": "Tap", "plastic": "acetal", "chemistry": "acid anionic", "state": "dried"},
    {"name": "Transfer hose", "plastic": "silicone", "chemistry": "acid anionic", "state": "rinsed"},
    {"name": "Keg", "plastic": "stainless steel", "chemistry": "chlorine", "state": "contact"},
    {"name": "Bottles", "plastic": "PET", "chemistry": "alcohol", "state": "contact"},
]

LANTERN_PALE: dict[str, Any] = {
    "batch": {
        "brewery": "Quillmoor Shed (invented)",
        "name": "Lantern Pale",
        "date": "2026-03-14",
        "volume": "21 L",
        "gravity": "1.050",
        "bitterness": "40 mg/L",
    },
    "kettle": {"size": "36 L", "loss": "1.5 L", "fermenter_loss": "0.8 L", "boil_off": "4.5 L/h"},
    "malts": [
        {"name": "Pale malt", "mass": "4.2 kg", "yield": "79 %", "color": "6 EBC", "precursor": "2 mg/kg"},
        {"name": "Crystal malt", "mass": "0.3 kg", "yield": "74 %", "color": "120 EBC", "precursor": "0.5 mg/kg"},
        {"name": "Wheat malt", "mass": "0.3 kg", "yield": "81 %", "color": "4 EBC", "precursor": "1.5 mg/kg"},
    ],
    "mash": {"efficiency": "73 %", "ratio": "3 L/kg", "grain_temp": "18 °C", "temp": "66 °C", "time": "60 min",
             "mashout_temp": "76 °C", "mashout_time": "10 min", "absorption": "1 L/kg", "loss": "0.5 L"},
    "boil": {"time": "60 min", "altitude": "150 m", "kettle": "open"},
    "hops": [
        {"name": "Ostrane", "mass": "28 g", "alpha": "9.5 %", "time": 60},
        {"name": "Velmark", "mass": "20 g", "alpha": "6.2 %", "time": 10},
        {"name": "Tarrow", "mass": "30 g", "alpha": "11 %", "time": 20, "stand_temp": "80 °C"},
    ],
    "chill": {"time": "20 min", "coolant_temp": "15 °C", "cooling": "0.1 /min"},
    "yeast": {"name": "Ale yeast", "attenuation": "77 %"},
    "shorter": {"time": "30 min", "old_style_precursor": "8 mg/kg"},
    "fermentation": {"temp": "19 °C", "ramp_day": "4 d", "end_temp": "22 °C", "per_day": "1 K", "pitch_rate": 0.75},
    "package": {"kind": "bottles", "target": "2.4 vol", "sugar": "sucrose", "bottle": "500 mL",
                "warmest": "30 °C", "rating": "6 bar"},
    "cleaning": _CLEANING,
    "parts": _PARTS,
}  # fmt: skip

#: the same batch after its brew day: what was read, chosen so that it tells a story (a thin mash, a strong boil)
LANTERN_PALE_MEASURED: dict[str, Any] = {
    "day": {
        "preboil_volume": "26.8 L", "preboil_volume_temp": "64 °C",
        "preboil_gravity": "1.034", "preboil_gravity_temp": "36 °C",
        "midboil_minutes": "30 min", "midboil_brix": "11.7 Brix",
        "boiled_minutes": "65 min",
        "postboil_volume": "22.3 L", "postboil_volume_temp": "97 °C",
        "postboil_gravity": "1.047", "postboil_gravity_temp": "24 °C",
        "boil_start": "13:20",
        "stood_minutes": "20 min", "stood_temp": "80 °C",
        "chill_start_temp": "80 °C", "chill_end_temp": "21 °C", "chilled_minutes": "20 min",
        "fermenter_volume": "19.9 L",
    },
    "fermented": {"package_volume": "18.6 L"},
    "cleaning": {**_CLEANING, "acid_poured": "50 mL", "chlorine_poured": "20 mL"},
    "readings": [
        {"day": "0 d", "note": "Pitched in the evening"},
        {"day": "1 d", "gravity": "1.044", "gravity_temp": "20 °C", "note": "Foam, a little sulphur"},
        {"day": "2 d", "gravity": "1.033", "gravity_temp": "20 °C"},
        {"day": "3 d", "gravity": "1.022", "gravity_temp": "20 °C"},
        {"day": "4 d", "gravity": "1.017", "gravity_temp": "20 °C", "note": "Warmer from today"},
        {"day": "6 d", "brix": 6.7, "note": "Tastes clean"},
        {"day": "8 d", "gravity": "1.0105", "gravity_temp": "22 °C"},
        {"day": "11 d", "gravity": "1.0105", "gravity_temp": "22 °C", "note": "Steady: bottling tomorrow"},
        *({"day": f"{day} d"} for day in (12, 14, 17, 21, 24, 28)),
    ],
}  # fmt: skip

SLATE_PILSNER: dict[str, Any] = {
    "batch": {
        "brewery": "Quillmoor Shed (invented)",
        "name": "Slate Pilsner",
        "date": "2026-04-18",
        "volume": "21 L",
        "gravity": "1.048",
        "bittering": "kinetic",
    },
    "kettle": {"size": "36 L", "loss": "1.5 L", "fermenter_loss": "0.8 L", "boil_off": "4.5 L/h"},
    "malts": [
        {"name": "Pilsner malt", "mass": "4.7 kg", "yield": "80 %", "color": "3.5 EBC", "precursor": "4 mg/kg"},
    ],
    "mash": {"efficiency": "72 %", "temp": "65 °C", "loss": "0.5 L"},
    "boil": {"time": "90 min", "altitude": "150 m"},
    "hops": [
        {"name": "Orlowen", "mass": "45 g", "alpha": "4.2 %", "time": 60},
        {"name": "Orlowen", "mass": "25 g", "alpha": "4.2 %", "time": 15},
        {"name": "Velmark", "mass": "20 g", "alpha": "6.2 %", "time": 5},
    ],
    "chill": {"time": "20 min", "coolant_temp": "12 °C", "cooling": "0.1 /min"},
    "yeast": {"name": "Lager yeast", "attenuation": "80 %"},
    "shorter": {"time": "30 min", "brewed": "shorter"},
    "fermentation": {"temp": "11 °C", "ramp_day": "8 d", "end_temp": "15 °C", "per_day": "1 K", "pitch_rate": 1.5},
    "package": {"kind": "keg", "target": "2.5 vol", "temp": "4 °C", "warmest": "28 °C", "rating": "9 bar"},
    "cleaning": _CLEANING,
    "parts": _PARTS,
}  # fmt: skip

#: the pale ale once more, from hard tap water that wants help
HARD_WATER: dict[str, Any] = LANTERN_PALE | {
    "batch": LANTERN_PALE["batch"] | {"name": "Lantern Pale, hard water", "date": "2026-05-16"},
    "malts": [
        LANTERN_PALE["malts"][0] | {"ph": 5.72, "buffering": 37},
        *LANTERN_PALE["malts"][1:],
    ],
    "mash": LANTERN_PALE["mash"] | {"sparge": "two batches"},
    "water": {
        "calcium": "96 mg/L", "magnesium": "11 mg/L", "sodium": "14 mg/L", "chloride": "38 mg/L", "sulfate": "44 mg/L",
        "alkalinity": "268 mg/L HCO3", "ph": 7.4, "chlorine": "0.4 mg/L", "distilled": "40 %",
        "mash_ph": 5.4, "mash_acid": "lactic", "mash_acid_share": "80 %", "mash_acid_density": "1.19 kg/L",
        "mash_acid_mass": "6 g", "sparge_ph": 5.7,
    },
    "salts": [
        {"name": "gypsum", "mass": "4 g", "into": "both"},
        {"name": "calcium chloride dihydrate", "mass": "2 g", "into": "mash"},
    ],
}  # fmt: skip
