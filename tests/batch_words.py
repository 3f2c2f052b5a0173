"""What the sheets say of a batch: states, advice, reasons, in full, with the figures and units that they quote.

Which sentence stands there follows from the figures of the model, `batch_model.py`; the words are the sheets' own.
"""

from __future__ import annotations

import math
from decimal import ROUND_HALF_UP, Decimal
from typing import Any

from brewfuncs import sani_plastic
from brewfuncs.batch.formats import house_unit
from brewfuncs.batch.plan import Plan
from brewfuncs.errors import BrewError
from tests.batch_physics import HotSide
from tests.batch_units import FACTORS, Given, base_of, in_unit


def fixed(value: float, decimals: int = 0) -> str:
    """A figure as a sentence shows it; halves go up."""
    step = Decimal(1).scaleb(-decimals)
    return str(Decimal(repr(float(value))).quantize(step, ROUND_HALF_UP))


def look(words: str) -> str:
    return f"Look: {words}"


def dose_digits(shown: float) -> int:
    return 2 if shown < 10 else 1


def _caution(plastic: str, chemistry: str, state: str) -> str:
    """The function's own words, which have tests of their own."""
    try:
        return str(sani_plastic(plastic, chemistry, state))
    except BrewError as error:
        return f"Not known: {error}"


#: of the results: the input whose unit they are shown in
SHOWN_IN = {
    "batch_volume": (
        "water strike_water sparge_water evaporated planned_preboil_volume hot_preboil_volume fermenter_volume_planned "
        "packaged_volume before_volume before_water_to_add during_volume during_water_to_add final_water_to_add "
        "final_volume final_packaged old_evaporated new_evaporated old_preboil_volume new_preboil_volume water_saved"
    ),
    "batch_gravity": (
        "original_gravity final_gravity planned_preboil_gravity before_gravity during_gravity final_gravity_made "
        "pitch_gravity old_preboil_gravity new_preboil_gravity expected_final gravity_now"
    ),
    "mash_temp": "strike_temp boiling_temp",
    "boil_time": "boil_length before_minutes during_minutes",
    "kettle_boil_off": "measured_boil_rate",
    "package_rating": "package_pressure pressure_wanted pressure_warmest",
    "hops_mass": "priming_sugar bottle_sugar",
    "malts_mass": "before_extract_to_add during_extract_to_add final_extract_to_add day_dissolved",
    "cleaning_acid_poured": "acid_dose",
    "cleaning_chlorine_poured": "chlorine_dose",
}


class Words:
    """The part of `Batch` that says it."""

    plan: Plan
    given: Given
    named: dict[str, Any]
    says: list[tuple[str, str]]
    hops: list[dict[str, Any]]
    all_malts: list[dict[str, Any]]
    weighed: list[dict[str, Any]]
    hops_missing: set[int]
    known: bool
    dated: bool
    undated: bool
    hydrometer_day: float

    def __getitem__(self, name: str) -> Any:
        return self.named[name]

    def put(self, **values: Any) -> None:
        self.named |= values

    # -- units -------------------------------------------------------------------------------------------------------

    def unit(self, name: str) -> str:
        """The unit of an input, or of a column: the first that the plan states in its rows; else the house's."""
        start, _, key = name.partition("_")
        rows = {"malts": "malt", "hops": "hop", "readings": "reading"}
        names = [f"{rows[start]}_{n}_{key}" for n in range(1, 15)] if start in rows else [name]
        chosen = next((self.plan.units[one] for one in names if one in self.plan.units), None)
        base = self.given.inputs[names[0]].quantity.symbol
        return str(chosen or house_unit(base, self.plan.system))

    def shown(self, name: str, decimals: int, given: bool = False) -> str:
        """A result, or an input, in the unit that it is shown in, and that unit."""
        unit = self.unit(name) if given else self[f"{name}_unit"]
        return f"{self.figure(name, decimals, given)} {unit}"

    def figure(self, name: str, decimals: int, given: bool = False) -> str:
        if given:
            return fixed(self.given.in_unit(name, self.unit(name)), decimals)
        found = next(key for key in self.named if key.startswith(f"{name}_in_"))
        return fixed(in_unit(self.named[found], base_of(found), self[f"{name}_unit"]), decimals)

    def units(self) -> None:
        """Which unit each result is shown in."""
        for source, results in SHOWN_IN.items():
            for result in results.split():
                self.put(**{f"{result}_unit": self.unit(source)})
        self.put(color_unit="EBC" if self.unit("malts_color") == "EBC" else "SRM")

    def temp_unit(self) -> str:
        return self.unit("mash_temp")

    def degrees(self, celsius: float, unit: str, decimals: int) -> str:
        return f"{fixed(in_unit(celsius, '°C', unit), decimals)} {unit}"

    def volume(self, litres: float, decimals: int) -> str:
        unit = self.unit("batch_volume")
        return f"{fixed(litres / FACTORS[unit], decimals)} {unit}"

    # -- advice on the brew day --------------------------------------------------------------------------------------

    def read(self, when: str, *, both: bool = False) -> bool:
        taken = [self[f"{when}_{what}_read"] is not None for what in ("volume", "gravity")]
        return all(taken) if both else any(taken)

    def advice(self, stage: str, reading: str, then: tuple[float, float], longer_volume: float | None,
               minutes: float, boiled: float, needed: float | None, floor: float) -> str:  # fmt: skip
        if self["malts_unknown"]:
            return str(self["malts_unknown"])
        if self.read("postboil", both=True):  # a later reading is nearer to what will be
            return "Read again after the boil: see there."
        if stage == "before" and self.read("midboil"):
            return "Read again in the boil: see there."
        if stage == "during" and not self.read(reading):
            return "Nothing read yet."
        wanted = self["kettle_wanted"]
        if abs(then[1] - wanted) < 0.0015:
            nothing = "" if self.read(reading) else "Nothing read yet: this is the plan. "
            return f"{nothing}As wanted: boil {fixed(minutes)} min{' more' if stage == 'during' else ''}."
        extract = f"stir in {self.shown(f'{stage}_extract_to_add', 2)} of dry extract at the end, off the heat"
        water = f"add {self.shown(f'{stage}_water_to_add', 1)} of water at the end"
        if then[1] < wanted:
            if needed is None:
                return f"Too weak, and a covered kettle boils nothing off: {extract}."
            assert longer_volume is not None
            left = self.volume(longer_volume, 1).partition(" ")[0]
            leaves = f"that leaves {left} instead of {self.volume(then[0], 1)}"
            more = fixed(needed - minutes)
            if needed - minutes > 30:
                return (
                    f"Too weak: {extract}, or brew it at {fixed(then[1], 3)}. Boiling down to it takes {more} min "
                    f"more, and {leaves}."
                )
            return (
                f"Boil {more} min longer, {fixed(boiled + needed)} min in all: {leaves}, and the hops go in that much "
                f"later. Or {extract}."
            )
        assert needed is not None
        shorter = max(needed, floor)
        if shorter == needed and minutes - shorter >= 3:
            less = fixed(minutes - shorter)
            in_all = f"{fixed(boiled + needed)} min in all"
            return f"Boil {less} min less, {in_all}, with the hops earlier, or boil as planned and {water}."
        if shorter == needed:
            return f"Too strong: boil as planned and {water}, or keep it stronger."
        return (
            f"Too strong: boil as planned and {water}, or keep it stronger. A boil short enough would fall below the "
            f"{fixed(self['shortest_boil'])} min that {self['shortest_boil_reason']}."
        )

    def advice_after(self, gravity: float, wanted: float) -> str:
        if self["malts_unknown"]:
            return str(self["malts_unknown"])
        if not self["postboil_measured"]:
            return "Not both read yet: this is the forecast."
        if abs(gravity - wanted) < 0.0015:
            return "As wanted: nothing to add."
        if self.given["water_added"] is not None or self.given["extract_added"] is not None:
            return f"Made up to {self.volume(self['made_up_volume'], 1)} at {fixed(self['made_up_gravity'], 3)}."
        if gravity > wanted:
            return f"Add {self.shown('final_water_to_add', 1)} of water, or keep it stronger."
        return f"Stir in {self.shown('final_extract_to_add', 2)} of dry extract off the heat, or leave it."

    def brew_day_lines(self) -> None:
        given, say = self.given, self.saying("Brew day")
        if self["acid_dose_in_mL"] is not None and given["cleaning_acid_name"]:
            shown = float(self.figure("acid_dose", 9))
            water = float(self.figure("cleaning_acid_volume", 9, given=True))
            dose = self.shown("acid_dose", dose_digits(shown))
            water_shown = self.shown("cleaning_acid_volume", dose_digits(water), given=True)
            say(f"{given['cleaning_acid_name']}: {dose} in {water_shown}, then its label's time.")
        else:
            say("Mix the sanitizer by its label: see the sheet Cleaning.")
        if self["malts_unknown"]:
            say(self["malts_unknown"])
        elif self["grain_in_kg"]:
            say("Preheat the tun; hot water scalds. Stir the grain in slowly, then measure.")
        elif self["kettle_fermentables_in_kg"]:
            say("No mash: heat the water, take it off the heat, stir in the extract.")
        else:
            say("No mash: heat the water. Sugar and extract go into the fermenter.")
        if self["kettle_fermentables_in_kg"]:
            self.put(day_dissolved_in_kg=self["kettle_fermentables_in_kg"])
            say(f"Into the kettle before the boil: {self.shown('day_dissolved', 2)} of sugar or extract.")
            del self.named["day_dissolved_in_kg"]
        say("Kettle finings, if you use them: 10 to 15 min before the end, by their label.")
        if not self["hops_unknown"]:
            low, high = (fixed(self[f"final_bitterness_{end}"]) for end in ("low", "high"))
            say(f"{low} to {high} by four models")
        if self["precursor_unknown"]:
            say(f"DMS unknown: {self['precursor_unknown']}")
        else:
            say(f"{fixed(self['day_dms_low'])} to {fixed(self['day_dms_high'])} as papers part")

    def saying(self, sheet: str) -> Any:
        return lambda words: self.says.append((sheet, words))

    # -- before anything is closed -----------------------------------------------------------------------------------

    def steadiness(self) -> str:
        if self.undated:
            return look("a reading has no day")
        if not self.dated:
            return "No reading yet"
        if not self.known:
            return look("the wort's gravity is missing")
        if self.hydrometer_day < self["latest_day"]:
            return look("read it with a hydrometer")
        if self["steady_days"] >= self["days_wanted"]:
            return look("steady, but high") if (self["co2_to_come"] or 0) > 0.3 else "Steady"
        if self["steady_days"] > 0 or self["differing_day"] < 0:
            wait = math.ceil(self["days_wanted"] - max(0, self["steady_days"]))
            return look(f"read again in {wait} day" + ("s" if wait != 1 else ""))
        return look("still falling" if self["differing_gravity"] > self["latest_gravity"] else "readings disagree")

    def verdict(self) -> str:
        rating, in_all, pressure = self.given["package_rating"], self["co2_in_all"], self["pressure_warmest_in_bar"]
        if not self.dated:
            return look("take a reading first")
        if self["gravity_steady"] != "Steady":
            return str(self["gravity_steady"])
        if self.given["package_target"] < self["residual_co2"]:
            return look("it holds more already")
        if in_all > 5:
            return look("over 5 volumes")
        if rating is None:
            if in_all > 3:
                return look("over 3 volumes")
            shown = float(self.figure("pressure_warmest", 9))
            unit = self["pressure_warmest_unit"]
            return f"Ready, if it is made for {fixed(math.ceil(shown * 10) / 10, 1)} {unit}"  # never rounded down
        return look("more than it is made for") if pressure > rating else "Ready"

    def why(self) -> str:
        """The reason of the verdict."""
        steady, days = self["gravity_steady"], self["days_wanted"]
        if not self.dated:
            return "No reading on the sheet Fermentation."
        if not self.known:
            return "What it may still ferment rests on the wort's gravity, and that isn't known."
        if self.hydrometer_day < self["latest_day"]:
            return "A refractometer can hide 1 to 2 points in finished beer: half a volume to a whole one."
        if steady == look("still falling"):
            higher, lower = (fixed(self[f"{which}_gravity"], 4) for which in ("differing", "latest"))
            then, now = (fixed(self[f"{which}_day"]) for which in ("differing", "latest"))
            return f"From {higher} on day {then} to {lower} on day {now}."
        if self["steady_days"] < days:
            unsure = ", as what to expect isn't sure" if days > 2 else ""
            return f"It has to stay the same for {days} days{unsure}."
        if steady == look("steady, but high"):
            return (
                f"It may start again, down to {fixed(self['expected_final_in_SG'], 3)}: "
                f"{fixed(self['co2_to_come'], 1)} volumes more. A fast ferment test would tell."
            )
        if steady != "Steady":
            return "See the readings on the sheet Fermentation."
        if self.given["package_target"] < self["residual_co2"]:
            return f"It has kept {fixed(self['residual_co2'], 2)} volumes. For less, let it warm up, open."
        if self["pressure_warmest_in_bar"] is None:
            return "No usual vessel is made for that."
        warmest = self.degrees(self.warmest_in_package(), self.unit("package_warmest"), 0)
        rating = "; what it is made for isn't stated."
        if self.given["package_rating"] is not None:
            rating = f"; it is made for {self.shown('package_rating', 1, given=True)}."
        return (
            f"{fixed(self['co2_in_all'], 1)} volumes are {self.shown('pressure_warmest', 1)} at {warmest} and "
            f"{self.shown('boil_altitude', 0, given=True)}{rating}"
        )

    def warmest_in_package(self) -> float:
        """Bottles are kept warm first, as warm as the beer was, so that the yeast works on the sugar."""
        warmest = float(self.given["package_warmest"])
        return max(warmest, self["warmest_temp_used"]) if self.given["package_kind"] == "bottles" else warmest

    # -- states ------------------------------------------------------------------------------------------------------

    def states(self) -> None:
        given, unknown = self.given, self["malts_unknown"]
        pitched, wanted = self["pitch_gravity_planned"], given["batch_gravity"]
        if unknown:
            gravity = unknown
        elif abs(pitched - wanted) < 0.0015:
            gravity = "as wanted"
        else:
            gravity = look("more malt is needed" if pitched < wanted else "less malt will do")
        if self["hops_unknown"]:
            bitter = look(self["hops_unknown"]) if self.hops_missing else self["hops_unknown"]
        else:
            low, high, planned = (self[f"bitterness_{key}"] for key in ("low", "high", "planned"))
            aim = given["batch_bitterness"]
            bitter = f"{fixed(low)} to {fixed(high)} by four models"
            if aim is not None and abs(planned - aim) > 0.05 * aim:
                bitter = look(("less" if planned < aim else "more") + f" than wanted; {bitter}")
        color = "" if unknown or not self["color_unknown"] else look(self["color_unknown"])
        water = self.water_state(unknown)
        dms = "" if unknown else look(self["precursor_unknown"])
        if not self["precursor_unknown"]:
            low, high = fixed(self["dms_planned_low"]), fixed(self["dms_planned_high"])
            dms = f"{low} to {high} as papers part; limit {fixed(given['dms_limit'])}"
        verdict = self["boil_verdict"]
        if verdict == "unknown":
            boil = "" if unknown else look("unknown whether long enough")
        elif verdict == "long enough":
            boil = verdict
        else:
            boil = look(verdict + (" whether long enough" if verdict == "uncertain" else ""))
        size, hot = given["kettle_size"], self["hot_preboil_volume_in_L"]
        if unknown or not size:
            kettle = ""
        elif hot > size:
            kettle = look("the kettle holds less")
        else:
            kettle = look("may boil over") if hot > 0.85 * size else "room enough"
        new = self["new_verdict"]
        if given["shorter_time"] > given["boil_time"]:
            shorter = look("it is longer than the one found")
        elif new == "unknown":
            shorter = unknown or look(self["precursor_unknown"])
        else:
            shorter = {
                "uncertain": look("uncertain whether long enough for DMS"),
                "too short": look("too short" + ("" if self["new_dms_low"] is None else " for DMS")),
                "longer than needed": "longer than DMS needs",
                "long enough": "long enough for DMS",
            }[new]
        self.put(
            gravity_state=gravity,
            bitterness_state=bitter,
            color_state=color,
            water_state=water,
            dms_state=dms,
            boil_state=boil,
            kettle_state=kettle,
            shorter_state=shorter,
            lauter_state=self.lauter_state(),
        )
        for side in ("old", "new"):
            for what in ("dms", "needed"):
                ends = [self[f"{side}_{what}_{end}"] for end in ("low", "high")]
                span = "" if ends[0] is None else f"{fixed(ends[0])} to {fixed(ends[1])}"
                self.put(**{f"{side}_{what}_span": span})

    def water_state(self, unknown: str) -> str:
        if unknown:
            return ""
        if not self["grain_in_kg"]:
            return "no mash: all into the kettle"
        strike, sparge = self.shown("strike_water", 1), self.figure("sparge_water", 1)
        return f"{strike} at {self.shown('strike_temp', 1)}, then {sparge}"

    # -- worth a look ------------------------------------------------------------------------------------------------

    @staticmethod
    def looks(look: bool, used: bool = True) -> str:
        return "not used" if not used else "look here" if look else "fine"

    def rule(self, key: str, state: str, **reasons: str) -> None:
        """A rule's state, and of its reasons the one of that state: not_used, unknown, uncertain, look_here, fine."""
        self.put(**{f"look_{key}": state, f"why_{key}": reasons[state.replace(" ", "_")]})

    def rules(self) -> None:
        self.rules_of_the_boil()
        self.rules_of_slips()
        self.rules_of_cleaning()
        self.rules_of_the_cellar()
        states = [value for name, value in self.named.items() if name.startswith("look_")]
        self.put(
            look_count=states.count("look here"),
            uncertain_count=states.count("uncertain"),
            unknown_count=states.count("unknown"),
            failing_count=0,
        )

    def rules_of_the_boil(self) -> None:
        given = self.given
        boiled = [hop for hop in self.hops if hop["stand"] is None]
        minutes, verdict = self["brewed_minutes"], self["boil_verdict"]
        needed = ""
        if self["boil_needed"] is not None:
            own, low, high = (fixed(self[f"boil_needed{end}"]) for end in ("", "_low", "_high"))
            needed = f"For its DMS this malt needs at least {own} min ({low} to {high} as papers part)."
            if high == "0":
                needed = "For its DMS this malt needs no set time."
            elif own == "0":
                needed = f"For its DMS this malt needs no set time (up to {high} min as papers part)."
        told = ""
        if self["dms_planned"] is not None:
            own, low, high = (fixed(self[f"dms_planned{end}"]) for end in ("", "_low", "_high"))
            limit = fixed(given["dms_limit"])
            told = (
                f"{fixed(minutes)} min: {own} µg/L of DMS at pitching, {low} to {high} as papers part; at most {limit} "
                f"is wanted. {needed}"
            )
        if verdict == "longer than needed":
            longer = f"{fixed(minutes)} min. {needed} A shorter boil saves heat and water: see the sheet Shorter boil."
        else:
            longer = "Under 15 min a boil hardly turns protein and bitterness." if minutes < 15 else told
        state = {"too short": "look here", "longer than needed": "look here", "uncertain": "uncertain",
                 "unknown": "unknown"}.get(verdict, "fine")  # fmt: skip
        self.rule(
            "boil",
            "not used" if self["malts_unknown"] and not self.weighed else state,
            not_used="No malt yet.",
            unknown=f"{self['precursor_unknown']}: how long it needs to boil isn't known.",
            look_here=longer,
            uncertain=told,
            fine=told,
        )
        gone = "wort boils off" if self["malts_unknown"] else f"{self.shown('evaporated', 1)} boil off"
        self.rule(
            "covered",
            self.looks(self["boil_rate_used"] == 0),
            look_here="Nothing boils off: DMS stays in the wort, and a covered kettle boils over sooner. Leave the lid "
            "off.",
            fine=f"Open: {gone}, and DMS with it.",
        )
        long = [hop["label"] for hop in boiled if hop["time"] > given["boil_time"]]
        self.rule(
            "hop_too_long",
            self.looks(bool(long), bool(self.hops)),
            not_used="No hops.",
            look_here=f"{(long or [''])[0]} is to boil longer than the boil as found: it counts as the whole boil.",
            fine="No addition is to boil longer than the boil as found.",
        )
        middling = [h for h in boiled if 20 <= h["brewed minutes"] <= 45 and h["brewed minutes"] < self["earliest_hop"]]
        said = ""
        if middling:
            more = f", and {len(middling) - 1} more between 20 and 45" if len(middling) > 1 else ""
            said = (
                f"{middling[0]['label']} boils {fixed(middling[0]['brewed minutes'])} min{more}: most aroma leaves, "
                "and it is less bitter than at the start. In the last 10 min it gives aroma instead: then the first "
                "addition takes more, by the sheet Shorter boil."
            )
        self.rule(
            "flavour",
            self.looks(bool(middling), self["earliest_hop"] > 0),
            not_used="No hops in the boil.",
            look_here=said,
            fine="No addition but the earliest boils 20 to 45 min.",
        )
        boiling = self["boiling_temp_in_C"]
        hot = HotSide(boiling, given["chill_coolant_temp"], given["chill_cooling"], given["chill_time"], 0, boiling)
        above = min(given["chill_time"], hot.until(80)) if boiling > 80 else 0.0
        above += self["stand_minutes"] if self["stand_at"] > 80 else 0
        self.put(minutes_hot=above)
        limit = self.degrees(80, self.temp_unit(), 0)
        self.rule(
            "slow_chill",
            self.looks(above > 5, any(hop["brewed minutes"] <= 15 for hop in boiled)),
            not_used="No hops in the last 15 min of the boil.",
            look_here=f"{fixed(above)} min above {limit}: the late hops go on turning bitter, and their aroma leaves. "
            "Chill faster, or add them cooler.",
            fine=f"{fixed(above, 1)} min above {limit} after the boil, with hops added in its last 15 min.",
        )
        full, size = self["hot_preboil_volume_in_L"], given["kettle_size"]
        used = bool(size) and not self["malts_unknown"]
        fills = ""
        if used:
            shown = self.shown("hot_preboil_volume", 1)
            fills = f"{shown} of hot wort fill {fixed(100 * full / size)} % of the kettle"
        self.rule(
            "kettle_full",
            self.looks(used and full > 0.85 * size, used),
            not_used=f"{self['malts_unknown']}." if size else "The kettle's size isn't stated.",
            look_here=f"{fills}: it may boil over, and boiling wort scalds. Boil less, or in two kettles.",
            fine=f"{fills}; up to 85 % leaves room for foam.",
        )

    def rules_of_slips(self) -> None:
        given = self.given
        pitched, wanted = self["pitch_gravity_planned"], given["batch_gravity"]
        self.rule(
            "gravity",
            "unknown" if self["malts_unknown"] else self.looks(abs(pitched - wanted) >= 0.0015),
            unknown=f"{self['malts_unknown']}.",
            look_here=f"These malts give {fixed(pitched, 4)} where {fixed(wanted, 4)} is wanted: beside each mass "
            "stands the one that meets it.",
            fine=f"These malts give {fixed(pitched, 4)}, as wanted.",
        )
        odd = [hop for hop in self.hops if not 0.02 <= hop["alpha"] <= 0.2]
        self.rule(
            "alpha",
            self.looks(bool(odd), bool(self.hops)),
            not_used="No hops.",
            look_here=f"{len(odd)} of these hops: outside 2 to 20 % is rare. 5.5 % is typed as 5.5 in a cell that "
            "shows %.",
            fine="All hops are within 2 to 20 %.",
        )
        share = given["mash_efficiency"]
        self.rule(
            "efficiency",
            self.looks(not 0.5 <= share <= 0.95, bool(self["grain_in_kg"])),
            not_used="No mash.",
            look_here=f"{fixed(100 * share)} %: outside 50 to 95 % is rare. Look at masses, volumes and the malts' "
            "yields.",
            fine=f"{fixed(100 * share)} %, within 50 to 95 %.",
        )
        self.rule_of_the_lauter()
        measured = self["measured_boil_rate_in_L_h"]
        if measured is None:
            hourly = self["boil_rate_used"] / ((self["brewed_preboil_volume"] + given["batch_volume"]) / 2)
        else:
            hourly = measured / ((self["preboil_volume_used"] + self["postboil_volume_used"]) / 2)
        self.put(evaporation_an_hour=hourly)
        shown = f"{fixed(100 * hourly, 1)} % of the kettle an hour"
        source = "Measure it on the brew day." if measured is None else "It was measured."
        self.rule(
            "evaporation",
            self.looks(not 0.04 <= hourly <= 0.2, self["boil_rate_used"] > 0),
            not_used="Nothing boils off: see the covered kettle.",
            look_here=f"{shown}: outside 4 to 20 % is rare. {source}",
            fine=f"{shown}, within 4 to 20 %.",
        )
        low, high = self["bitterness_low"], self["bitterness_high"]
        models = "" if low is None else f"The four models give {fixed(low)} to {fixed(high)} mg/L (IBU)"
        used = low is not None and self.looks(high > 1.5 * low)
        self.rule(
            "methods",
            "not used" if not self.hops else used or "unknown",
            not_used="No hops.",
            unknown=f"{self['hops_unknown']}.",
            look_here=f"{models}, more than half apart; the beer may lie outside that. Keep to the model that your "
            "beers have matched.",
            fine=f"{models}: that is how far they part, not what the beer will have.",
        )

    def rule_of_the_lauter(self) -> None:
        how = self.given["mash_sparge"]
        assumed = f"{fixed(100 * self.given['mash_efficiency'])} % is assumed"
        one, most = (
            "" if share is None else f"{fixed(100 * share, 1)} %"
            for share in (self["lauter_one"], self["lauter_bound"])
        )
        grain = "of this grain's extract"
        if how is None:
            unsure = (
                f"{assumed}: one batch of sparge water can bring {one} {grain}, many small ones {most}. State how it "
                "is sparged."
            )
        else:
            unsure = (
                f"{assumed}: many small batches of sparge water can bring {most} {grain}. More takes water that pushes "
                "the wort before it."
            )
        sparged = "in one batch" if how is None else "so sparged"
        if not self["malts_unknown"] and not self["sparge_water_in_L"]:
            sparged = "without a sparge"
        if not self["grain_in_kg"]:
            state = "not used"
        elif self["lauter_unknown"]:
            state = "unknown"
        else:
            state = "look here" if self["lauter_too_much"] else "uncertain" if self["lauter_unsure"] else "fine"
        self.rule(
            "lauter",
            state,
            not_used="No mash.",
            unknown=f"{self['lauter_unknown']}.",
            look_here=f"{assumed}, and so much water can bring at most {most} {grain}: plan with less. A stronger beer "
            "leaves more with the grain.",
            uncertain=unsure,
            fine=f"{assumed}, and so much water, {sparged}, can bring {one if how is None else most} {grain}.",
        )

    def lauter_state(self) -> str:
        if self["malts_unknown"] or not self["grain_in_kg"]:
            return ""
        if self["lauter_unknown"]:
            return look(self["lauter_unknown"])
        assumed = f"{fixed(100 * self.given['mash_efficiency'])} % is assumed"
        if self["lauter_too_much"]:
            return look(f"{assumed}: more than that")
        if self["lauter_unsure"]:
            return look(f"{assumed}: more than a sparge is sure to bring")
        one = self["lauter_one"]
        return (
            f"{assumed}: within it"
            if self.given["mash_sparge"]
            else f"{assumed}; one batch brings {fixed(100 * one)} %"
        )

    def rules_of_cleaning(self) -> None:
        given = self.given
        not_poured = "The label's dose, the water or what was poured isn't stated on the sheet Cleaning."
        for kind in ("acid", "chlorine"):
            times, over = self[f"{kind}_times"], self[f"{kind}_over"]
            used = times is not None
            poured = label = ""
            if used:
                digits = dose_digits(float(self.figure(f"{kind}_dose", 9)))
                label = self.figure(f"{kind}_dose", digits)
                poured = self.shown(f"cleaning_{kind}_poured", digits, given=True)
            self.rule(
                f"{kind}_dose",
                self.looks(used and abs(times - 1) > 0.1, used),
                not_used=not_poured,
                look_here=f"{poured} where the label has {label}: too little may not sanitize, and more is not safer.",
                fine=f"{poured}, and the label has {label} for this much water.",
            )
            share = fixed(over, 2) if used else ""
            self.rule(
                f"{kind}_strength",
                self.looks(used and over > 1.001, used),
                not_used=not_poured,
                look_here=f"{share} times the most that the label allows: rinse as it says, or mix it anew.",
                fine=f"{share} of the most that the label allows. Any excess means rinsing as it says.",
            )
        ph = self["acid_ph"]
        shown = "" if ph is None else fixed(ph, 2)
        self.rule(
            "acid_ph",
            self.looks(ph is not None and ph > 3, ph is not None),
            not_used="Dose, share or density isn't stated on the sheet Cleaning.",
            look_here=f"pH {shown}: over 3 an acid sanitizer may not work. Use softer water, or the dose that the "
            "label has for yours.",
            fine=f"pH {shown}, under 3. That alone doesn't make a sanitizer: dose and time do.",
        )
        parts = [row for row in given.rows("part", 8) if row.get("plastic")]
        acids = ("acid anionic", "phosphoric acid", "iodophor", "peracetic acid")
        bases = ("caustic cleaner", "percarbonate cleaner")
        found = {"acetal": 0, "steel": 0, "caustic": 0}
        for part in parts:
            what, meets, how = (part.get(key) for key in ("plastic", "chemistry", "state"))
            found["acetal"] += what in ("acetal", "POM") and meets in acids and how in ("soaked", "dried")
            found["steel"] += what == "stainless steel" and meets == "chlorine" and how != "rinsed"
            found["caustic"] += what == "aluminium" and meets in bases
        for n in range(1, 9):
            stated = [given[f"part_{n}_{key}"] for key in ("plastic", "chemistry", "state")]
            self.put(**{f"part_{n}_caution": _caution(*stated) if all(stated) else ""})
        warned = {
            "acetal": (
                "acetal (POM) that soaks in acid, or has it dried on, can crack. Rinse it off after the label's time.",
                "No acetal (POM) of this brewery soaks in acid or has it dried on.",
            ),
            "steel": (
                "chloride pits stainless steel. The label's time at most, then rinse; never leave it overnight.",
                "No stainless steel of this brewery meets chlorine without a rinse.",
            ),
            "caustic": (
                "caustic or percarbonate cleaner eats aluminium and gives off hydrogen, which explodes. Use a cleaner "
                "made for aluminium.",
                "No aluminium of this brewery meets caustic or percarbonate cleaner.",
            ),
        }
        for key, (warning, fine) in warned.items():
            self.rule(
                key,
                self.looks(found[key] > 0, bool(parts)),
                not_used="No parts on the sheet Cleaning.",
                look_here=f"{found[key]} of these parts: {warning}",
                fine=fine,
            )

    def rules_of_the_cellar(self) -> None:
        given = self.given
        rise = given["fermentation_end_temp"] - given["fermentation_temp"]
        unit = self.unit("fermentation_per_day")
        shown, wanted = (f"{fixed(kelvin / FACTORS[unit], 1)} {unit}" for kelvin in (rise, 2))
        first = fixed(given["fermentation_ramp_day"])
        self.rule(
            "rise",
            self.looks(rise < 2),
            look_here=f"{shown}: a rise of {wanted} or more helps the yeast to finish and to clear diacetyl.",
            fine=f"{shown} from day {first} on helps the yeast to finish.",
        )
        target, unrated = given["package_target"], given["package_rating"] is None
        self.rule(
            "high_target",
            self.looks(unrated and target > 3),
            look_here=f"{fixed(target, 1)} volumes: over 3 needs bottles or kegs made for it. State on the sheet "
            "Package what they are rated for, and stay under it.",
            fine=f"{fixed(target, 1)} volumes; up to 3 is what usual bottles are made for, and more is judged by what "
            "yours are rated for.",
        )
        why, looks = self["package_why"], self["package_state"].startswith("Look")
        self.rule(
            "unfinished",
            "not used" if not self.dated else "look here" if looks else "uncertain" if unrated else "fine",
            not_used="No reading yet on the sheet Fermentation.",
            look_here=why,
            uncertain=why,
            fine=why,
        )

    # -- above the charts, and lines without a name ------------------------------------------------------------------

    def sentences(self, first: dict[str, Any] | None, start: float, end: float, unit: str) -> None:
        given, say = self.given, self.saying("Shorter boil")
        if given["shorter_brewed"] == "shorter":
            say("1. It is chosen: plan and brew day follow it, nothing is typed anew.")
        else:
            say('1. Choose "shorter" as the boil to brew: plan and brew day follow.')
        say("2. Add the hops by the table below; masses differ by model.")
        say(f"New mass by {given['batch_bittering']}")
        if first is None:
            say("No hops yet.")
        elif first["stand"] is not None:
            say("The first row is a hop stand.")
        elif first["new"] == first["boiled"]:
            say(f"It boils {fixed(first['new'])} min in both boils: the same mass.")
        else:
            tinseth, kinetic, rager = (
                fixed(self[f"first_{name}"], 2) for name in ("tinseth", "kinetic", "rager_smooth")
            )
            say(
                f"At {fixed(first['new'])} instead of {fixed(first['boiled'])} min it takes hops times {tinseth} by "
                f"Tinseth, {kinetic} kinetic, {rager} Rager smooth."
            )
        if self["precursor_unknown"]:
            say(f"Unknown: {self['precursor_unknown']}.")
        else:
            own, low, high = (fixed(self[f"new_dms{at}"]) for at in ("", "_low", "_high"))
            minutes = fixed(given["shorter_time"])
            say(f"{own} µg/L after {minutes} min at the values set; {low} to {high} as papers part.")
        starts = [
            f"{self.shown(f'{side}_preboil_volume', 1)} at {fixed(self[f'{side}_preboil_gravity_in_SG'], 3)}"
            for side in ("new", "old")
        ]
        say(f"The shorter boil starts with {starts[0]}, the one found with {starts[1]}.")
        saved = self["water_saved_in_L"]
        less = f"with {self.shown('water_saved', 1).removeprefix('-')} {'less' if saved > 0 else 'more'}"
        fill = "Sparge" if self["grain_in_kg"] else "Fill the kettle"
        say(f"3. {fill} {less if saved else 'as found'}: {starts[0]} before the boil.")
        if self["priming_sugar_in_g"] is not None and not self["package_state"].startswith("Ready"):
            self.saying("Package")("Add it only once the verdict is Ready.")
        say = self.saying("Fermentation")
        if not self.known:
            say("No wort yet.")
        elif not self.dated:
            say(f"No reading yet: the wort starts at {fixed(self['fermenter_gravity_used'], 3)}.")
        else:
            say(
                f"On day {fixed(self['latest_day'])} at {fixed(self['latest_gravity'], 3)}, "
                f"{fixed(100 * self['attenuation_now'])} % attenuated; {fixed(self['expected_final_in_SG'], 3)} is to "
                "be expected."
            )
        day, reached = fixed(given["fermentation_ramp_day"]), fixed(self["ramp_end_day"])
        if given["fermentation_end_temp"] == given["fermentation_temp"]:
            say(f"It stays at {fixed(start, 1)} {unit}.")
        else:
            say(f"From day {day} it goes from {fixed(start, 1)} to {fixed(end, 1)} {unit}, reached on day {reached}.")
        if self["acid_strength"] is None:
            told = "Nothing to show: no acid sanitizer in use, or its share and density aren't stated."
        else:
            told = (
                f"Left to dry in this air, the acid sanitizer gets about {fixed(self['dried_factor'])} times as "
                "strong: rinse or drain well what should not meet that."
            )
        self.says.append(("Cleaning", told))
        rules = sum(name.startswith("why_") for name in self.named)
        asking = [
            f"{self['look_count']} of these {rules} rules {'asks' if self['look_count'] == 1 else 'ask'} for a look",
            *(f"{self[f'{key}_count']} {key}" for key in ("uncertain", "unknown") if self[f"{key}_count"]),
        ]
        any_at_all = self["look_count"] + self["uncertain_count"] + self["unknown_count"]
        told = ", ".join(asking) + "." if any_at_all else "Nothing here asks for a look."
        self.says.append(("Worth a look", told))
        say = self.saying("Plan")
        how = "made shorter" if given["shorter_brewed"] == "shorter" else "as found"
        say(f"What it gives, brewed with the boil {how}")
        say(f"by {given['batch_bittering']}")
        if given["batch_bitterness"] is not None:
            say("For the bitterness wanted: this addition alone changed, the others as they are.")
        if self["malts_assumed"]:
            say("Usual values where blank: " + self["malts_assumed"])
        parts = [given["batch_brewery"], given["batch_name"]]
        for sheet in ("Plan", "Shorter boil", "Brew day", "Fermentation", "Package", "Cleaning"):
            self.says.append((sheet, " – ".join(part for part in parts if part)))
        self.brew_day_lines()
