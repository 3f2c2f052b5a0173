"""A whole batch in plain Python: what every named cell of the workbook should hold, from the plan alone.

Written from the published formulas (batch_physics.py) and from what the sheets say they do, not from their formulas.
The plan's inputs are read as the workbook reads them; their units are converted by factors of our own. A value that
isn't known is None, where the cell is blank. What the sheets say of it is in batch_words.py.
"""

from __future__ import annotations

import datetime
import math
from collections.abc import Iterable
from typing import Any

from brewfuncs.batch.plan import Plan
from tests import batch_physics as physics
from tests.batch_physics import HotSide
from tests.batch_units import FACTORS, Given, in_unit
from tests.batch_water import Water
from tests.batch_words import Words, fixed, look

METHODS = ("tinseth", "kinetic", "rager smooth", "rager table")
BADLY, EASILY = 18, 75  # volatilities of DMS that papers span
SLOW, FAST = 40, 32.5  # half-lives of its precursor, min


def total(values: Iterable[float]) -> float:
    return math.fsum(values)


#: kinds of fermentables by a word in their name, the first that fits: the extract of such as it is
KINDS = (
    ("dry extract", ("dry extract", "dried extract", "dry malt extract", "dried malt extract"), 0.95),
    ("liquid extract", ("extract",), 0.78),
    ("syrup", ("syrup", "honey"), 0.78),
    ("sugar", ("sugar", "sucrose", "dextrose", "glucose"), 1.0),
    ("crystal malt", ("crystal", "caramel"), 0.74),
    ("roasted grain", ("roast", "chocolate", "black"), 0.68),
    ("wheat malt", ("wheat",), 0.80),
    ("flaked grain", ("flaked", "rolled", "oats"), 0.70),
    ("base malt", ("",), 0.78),
)


LINALOOL = 35  # times richer in the steam than in the wort: Sander 2015


def _name(method: str) -> str:
    return method.replace(" ", "_")


class Batch(Words):
    """What the cells should hold: `named`, in base units."""

    def __init__(self, plan: Plan) -> None:
        self.plan, self.given = plan, Given(plan)
        self.named: dict[str, Any] = {}
        self.tables: dict[str, list[list[Any]]] = {}
        self.says: list[tuple[str, str]] = []
        self.placed: dict[str, Any] = {}
        self.units()
        self.malts()
        self.wort()
        self.hops_as_found()
        self.boils()
        self.brewed()
        self.answers()
        self.lauter()
        self.day()
        self.fermentation()
        self.cleaning()
        if plan.has_water:
            Water(self)
        self.states()
        self.rules()
        self.shown_again()
        self.charts()

    # -- fermentables ------------------------------------------------------------------------------------------------

    def malts(self) -> None:
        efficiency = self.given["mash_efficiency"]
        self.all_malts = []
        for row in self.given.rows("malt", 8):
            name, kilograms = row.get("name") or "", row.get("mass")
            for shown, key in (("kg", "mass"), ("lovibond", "color"), ("dms", "precursor")):
                self.put(**{f"malt_{row['n']}_{shown}": row.get(key) or 0.0})  # a blank is 0 on Workings
            if not name and kilograms is None:
                continue
            kind, _, usual = next(k for k in KINDS if any(word in name.lower() for word in k[1]))
            dissolved = kind in ("dry extract", "liquid extract", "syrup", "sugar")
            goes = row.get("goes") or ("kettle" if dissolved else "mash")
            share = usual if row.get("yield") is None else row["yield"]
            self.all_malts.append(
                row
                | {
                    "kilograms": kilograms or 0.0,
                    "goes": goes,
                    "by itself": not row.get("goes") and dissolved,
                    "kind": kind,
                    "extract": (kilograms or 0.0) * share * (efficiency if goes == "mash" else 1),
                    "whole": (kilograms or 0.0) * share,
                    "label": name or f"Row {row['n']}",
                }
            )
        weighed = [malt for malt in self.all_malts if malt["kilograms"]]
        self.weighed = weighed
        no_mass = [malt["label"] for malt in self.all_malts if malt.get("name") and malt.get("mass") is None]
        unknown = f"{no_mass[0]} has no mass yet" if no_mass else "" if weighed else "No malt yet"
        colorless = [malt["label"] for malt in weighed if malt.get("color") is None]
        silent = [
            malt["label"]
            for malt in weighed
            if malt["goes"] != "fermenter" and malt.get("precursor") is None and malt["kind"] not in ("sugar", "syrup")
        ]
        self.put(
            malts_unknown=unknown,
            color_unknown=unknown or (f"{colorless[0]} states no colour" if colorless else ""),
            precursor_unknown=unknown or (f"{silent[0]} states no DMS precursor" if silent else ""),
            grain_in_kg=self.weight("mash"),
            kettle_fermentables_in_kg=self.weight("kettle"),
            fermenter_fermentables_in_kg=self.weight("fermenter"),
            fermentables_in_kg=total(malt["kilograms"] for malt in weighed),
            mash_extract=self.extract("mash"),
            kettle_extract=self.extract("mash", "kettle"),
            fermenter_extract=self.extract("fermenter"),
        )

    def weight(self, *places: str) -> float:
        return total(malt["kilograms"] for malt in self.weighed if malt["goes"] in places)

    def extract(self, *places: str) -> float:
        return total(malt["extract"] for malt in self.weighed if malt["goes"] in places)

    # -- wort --------------------------------------------------------------------------------------------------------

    def pitched(self, volume: float, gravity: float) -> tuple[float, float]:
        """Volume and gravity in the fermenter of wort sent there: topped up, and with what goes in after the boil."""
        mass = physics.mass(volume, gravity) + self.given["kettle_topup"] * physics.RHO + self.weight("fermenter")
        return physics.of_masses(mass, physics.extract(volume, gravity) + self.extract("fermenter"))

    def wort(self) -> None:
        given, rho = self.given, physics.RHO
        volume, wanted = given["batch_volume"], given["batch_gravity"]
        sent = max(0.0, volume - given["kettle_loss"])
        as_is = not given["kettle_topup"] and not self.weight("fermenter")
        share = physics.plato(wanted) / 100
        if as_is or not sent:
            kettle_wanted = wanted
        else:  # the wort sent, as heavy as the one wanted, must bring the extract that its additions don't
            sent_mass = sent * wanted * rho
            everything = sent_mass + given["kettle_topup"] * rho + self.weight("fermenter")
            kettle_wanted = physics.gravity_of(
                100 * max(0.0, share * everything - self.extract("fermenter")) / sent_mass
            )
        unknown = bool(self["malts_unknown"])
        gravity = kettle_wanted if unknown else physics.gravity_of_extract(self["kettle_extract"], volume)
        pitch_volume, pitch_gravity = (sent, gravity) if as_is else self.pitched(sent, gravity)
        wort = volume * (pitch_volume / sent if sent else 1)
        self.put(
            sent_volume=sent,
            kettle_wanted=kettle_wanted,
            kettle_gravity=gravity,
            pitch_gravity_planned=pitch_gravity,
            pitch_volume_planned=pitch_volume,
            wort_volume=wort,
            boil_rate_used=0.0 if given["boil_kettle"] == "covered" else given["kettle_boil_off"],
            precursor_load=1000
            * total(
                malt["kilograms"] * (malt.get("precursor") or 0) for malt in self.weighed if malt["goes"] != "fermenter"
            )
            / wort,
            boiling_temp_in_C=physics.boiling_point(given["boil_altitude"]),
        )
        if not unknown:
            reaches = self["fermenter_extract"] or (self["kettle_extract"] and sent)
            self.put(malts_scale=self.scale(share) if reaches else None)

    def scale(self, share: float) -> float:
        """The factor on all masses by which the fermenter gets the gravity wanted: tried, and halved down to."""

        def off(factor: float) -> float:
            gravity = physics.gravity_of_extract(factor * self["kettle_extract"], self.given["batch_volume"])
            sent = self["sent_volume"]
            mass = physics.mass(sent, gravity) + self.given["kettle_topup"] * physics.RHO
            mass += factor * self.weight("fermenter")
            return (physics.extract(sent, gravity) + factor * self.extract("fermenter")) / mass - share

        return physics.bisected(off, 0.05, 8)

    # -- hops --------------------------------------------------------------------------------------------------------

    def hops_as_found(self) -> None:
        given = self.given
        boiling = physics.boiling_point(given["boil_altitude"])
        self.hops = []
        missing = []
        for row in given.rows("hop", 12):
            name, grams = row.get("name") or "", row.get("mass")
            if not name and grams is None:
                continue
            stand = row.get("stand_temp")
            self.put(**{f"hop_{row['n']}_stand_at": stand or 0.0})
            timed = row.get("alpha") is not None and row.get("time") is not None
            timed = timed and (stand is None or stand <= boiling + 0.5)
            label = name or f"Row {row['n']}"
            if grams is None or (grams > 0 and not timed):
                missing.append((row["n"], label))
            elif grams > 0:
                self.hops.append(row | {"label": label, "grams": grams, "stand": stand})
        self.put(
            hops_count=len(self.hops),
            hops_unknown=f"{missing[0][1]}: mass, alpha acid or time is missing, or its stand is hotter than the boil"
            if missing
            else ""
            if self.hops
            else "No hops yet",
        )
        self.hops_missing = {n for n, _ in missing}
        for n in set(range(1, 13)) - {hop["n"] for hop in self.hops}:  # such a row brings nothing on Workings
            starts = ("hop_{}_", "brew_{}_", "new_{}_", "hop_{}_final_")
            self.put(**{f"{start.format(n)}{_name(m)}": 0.0 for start in starts for m in METHODS})
            self.put(**{f"brew_{n}_g": 0.0, f"hop_{n}_real_gravity": 1.0})
        stands = [hop for hop in self.hops if hop["stand"] is not None]
        time, temp = given["stand_time"], given["stand_temp"]
        minutes = max((hop["time"] for hop in stands), default=0.0) if time is None else time
        hottest = max((hop["stand"] for hop in stands if hop["time"]), default=0.0)
        at = boiling if not minutes else temp if temp is not None else hottest or boiling
        self.put(stand_minutes=minutes, stand_at=at)

    def mean_gravity(self, minutes: float) -> float:
        """Of the wort from an addition with so many minutes to go until the end of the boil."""
        gravity = self["kettle_gravity"]
        gone = self["boil_rate_used"] * minutes / 60
        return (physics.with_water(self.given["batch_volume"], gravity, gone)[1] + gravity) / 2

    # -- the boil as found, and the shorter one -----------------------------------------------------------------------

    def boils(self) -> None:
        given = self.given
        boiling, volume = self["boiling_temp_in_C"], given["batch_volume"]
        hot = self.hot_side(given["chill_time"], given["chill_cooling"], self["stand_minutes"], self["stand_at"])
        afterwards = hot.equivalent_minutes()
        self.put(
            stand_evaporation=min(0.4, given["stand_boil_off"] / volume),
            after_boil_kinetic=afterwards,
            after_boil=max(0.0, afterwards - 2),  # a model fitted to boils has some minutes of cooling in it
        )
        for side, minutes in (("old", given["boil_time"]), ("new", given["shorter_time"])):
            gone = self["boil_rate_used"] * minutes / 60
            before, gravity = physics.with_water(volume, self["kettle_gravity"], gone)
            self.put(
                **{
                    f"{side}_minutes": minutes,
                    f"{side}_evaporated_in_L": gone,
                    f"{side}_preboil_volume_in_L": before,
                    f"{side}_preboil_gravity_in_SG": gravity,
                    f"{side}_heat": physics.heating(before, given["mash_temp"], boiling) + physics.evaporating(gone),
                    f"{side}_aroma": (1 - gone / before) ** LINALOOL,
                    f"{side}_evaporation": min(0.4, self["boil_rate_used"] / ((before + volume) / 2)),
                }
            )
            self.dms(side, minutes, f"{side}_evaporation", hot)
        start = min(given["boil_time"], given["shorter_time"])
        self.put(
            water_saved_in_L=self["old_preboil_volume_in_L"] - self["new_preboil_volume_in_L"],
            heat_saved=self["old_heat"] - self["new_heat"],
            old_start_gravity=self.mean_gravity(given["boil_time"]),
            new_start_gravity=self.mean_gravity(start),
            old_style_load=1000 * given["shorter_old_style_precursor"] * self["grain_in_kg"] / self["wort_volume"],
        )
        for method in METHODS:
            factor = self.used(method, given["boil_time"]) / self.used(method, start) if start else 1
            self.put(**{f"factor_{_name(method)}": factor})
        self.additions()

    def hot_side(self, minutes: float, cooling: float, stand: float, at: float) -> HotSide:
        return HotSide(self["boiling_temp_in_C"], self.given["chill_coolant_temp"], cooling, minutes, stand, at)

    def used(self, method: str, minutes: float) -> float:
        """Utilization of an addition that boils so long, what isomerises after the boil included."""
        later = self["after_boil_kinetic"] if method == "kinetic" else self["after_boil"]
        at = self.mean_gravity(minutes)
        return physics.utilization(method, min(240, minutes + later), at, self["boiling_temp_in_C"])

    def dms(self, side: str, minutes: float, evaporation: str, hot: HotSide, load: str = "precursor_load") -> None:
        """DMS at pitching, and the boil that the limit asks for: by the values set, and as far as papers part."""
        given = self.given
        own = (given["dms_volatility"], given["dms_precursor_half_life"])
        names = [f"{side}_dms", f"{side}_dms_low", f"{side}_dms_high"]
        wanted = [f"{side}_needed", f"{side}_needed_low", f"{side}_needed_high"]
        if self["precursor_unknown"]:
            self.put(**dict.fromkeys([*names, *wanted]))
            verdict = "too short" if minutes < 15 else "unknown"
            self.put(**{f"{side}_verdict": verdict})
            return

        def at_pitch(boiled: float, volatility: float, half_life: float) -> float:
            return hot.dms(self[load], boiled, self[evaporation], volatility, half_life, self["stand_evaporation"])

        def needed(volatility: float, half_life: float) -> float:
            return physics.boil_for_dms(given["dms_limit"], lambda boiled: at_pitch(boiled, volatility, half_life))

        middle = at_pitch(minutes, *own)
        low = min([middle, *(at_pitch(minutes, EASILY, life) for life in (FAST, SLOW))])
        high = max([middle, *(at_pitch(minutes, BADLY, life) for life in (FAST, SLOW))])
        self.put(**dict(zip(names, (middle, low, high), strict=True)))
        longest = math.inf
        if self["boil_rate_used"]:
            middle = needed(*own)
            shortest = min([middle, *(needed(EASILY, life) for life in (FAST, SLOW))])
            longest = max([middle, *(needed(BADLY, life) for life in (FAST, SLOW))])
            self.put(**dict(zip(wanted, (middle, shortest, longest), strict=True)))
        else:
            self.put(**dict.fromkeys(wanted))
        limit = given["dms_limit"]
        if minutes < 15 or low > limit:
            verdict = "too short"
        elif high > limit:
            verdict = "uncertain"
        else:
            verdict = "longer than needed" if minutes > 15 + max(30, longest) else "long enough"
        self.put(**{f"{side}_verdict": verdict})

    def additions(self) -> None:
        """Every hop as found and in the shorter boil, its bitterness by each method."""
        given, hops = self.given, self.hops
        chosen = given["batch_bittering"]
        for hop in hops:
            n, stands = hop["n"], hop["stand"] is not None
            hop["boiled"] = 0.0 if stands else min(hop["time"], given["boil_time"])
            later = given[f"later_{n}_time"]
            hop["new"] = 0.0 if stands else min(hop["boiled"], given["shorter_time"], 240 if later is None else later)
            masses = {
                m: hop["grams"]
                if stands or hop["new"] == hop["boiled"]
                else hop["grams"] * self.used(m, hop["boiled"]) / self.used(m, hop["new"])
                for m in METHODS
            }
            hop["new grams"] = masses[chosen]
            hop["found"] = {m: self.bitterness(hop, m, hop["grams"], hop["boiled"]) for m in METHODS}
            hop["shorter"] = {m: self.bitterness(hop, m, hop["new grams"], hop["new"]) for m in METHODS}
            if not stands:
                self.put(**{f"new_{n}_time": hop["new"]})
            self.put(**{f"new_{n}_mass_in_g": hop["new grams"]})
            for m in METHODS:
                self.put(
                    **{
                        f"hop_{n}_{_name(m)}": hop["found"][m],
                        f"new_{n}_{_name(m)}": hop["shorter"][m],
                        f"new_{n}_{_name(m)}_in_g": masses[m],
                    }
                )
        for m in METHODS:
            for side, key in (("old", "found"), ("new", "shorter")):
                all_of_it = None if self["hops_unknown"] else total(hop[key][m] for hop in hops)
                self.put(**{f"{side}_bitterness_{_name(m)}": all_of_it})

    def bitterness(self, hop: dict[str, Any], method: str, grams: float, minutes: float) -> float:
        volume = self["wort_volume"]
        if hop["stand"] is None:
            return physics.bitterness(grams, hop["alpha"], self.used(method, minutes), volume)
        chilled = HotSide(
            min(hop["stand"], self["boiling_temp_in_C"]),
            self.given["chill_coolant_temp"],
            self.given["chill_cooling"],
            self.given["chill_time"],
        )
        return physics.bitterness(grams, hop["alpha"], 0.5 * chilled.isomerised(hop["time"]), volume)

    # -- the boil that is brewed -------------------------------------------------------------------------------------

    def brewed(self) -> None:
        side = "new" if self.given["shorter_brewed"] == "shorter" else "old"
        for name, of in (
            ("brewed_minutes", "minutes"),
            ("brewed_evaporated", "evaporated_in_L"),
            ("brewed_preboil_volume", "preboil_volume_in_L"),
            ("brewed_preboil_gravity", "preboil_gravity_in_SG"),
            ("evaporation_share", "evaporation"),
            ("dms_planned", "dms"),
            ("dms_planned_low", "dms_low"),
            ("dms_planned_high", "dms_high"),
            ("boil_needed", "needed"),
            ("boil_needed_low", "needed_low"),
            ("boil_needed_high", "needed_high"),
            ("boil_verdict", "verdict"),
        ):
            self.put(**{name: self[f"{side}_{of}"]})
        for hop in self.hops:
            hop["brewed grams"] = hop["new grams"] if side == "new" else hop["grams"]
            hop["brewed minutes"] = (
                hop["time"] if hop["stand"] is not None else hop["new"] if side == "new" else hop["boiled"]
            )
            self.put(**{f"brew_{hop['n']}_g": hop["brewed grams"], f"brew_{hop['n']}_minutes": hop["brewed minutes"]})
        sums = {m: total(hop["shorter" if side == "new" else "found"][m] for hop in self.hops) for m in METHODS}
        unknown = bool(self["hops_unknown"])
        self.put(
            bitterness_planned=None if unknown else sums[self.given["batch_bittering"]],
            bitterness_low=None if unknown else min(sums.values()),
            bitterness_high=None if unknown else max(sums.values()),
            **{f"bitterness_by_{_name(m)}": None if unknown else sums[m] for m in METHODS},
        )

    def answers(self) -> None:
        """The figures of the plan."""
        given = self.given
        volume, gravity = self["brewed_preboil_volume"], self["brewed_preboil_gravity"]
        if kettle := self["kettle_fermentables_in_kg"]:  # sugar and extract are not in the runoff
            volume, _ = physics.of_masses(physics.mass(volume, gravity) - kettle, self["mash_extract"])
        grain = self["grain_in_kg"]
        water = volume + grain * given["mash_absorption"] + (given["mash_loss"] if grain else 0)
        strike = min(water, given["mash_ratio"] * grain)
        pitched = self["pitch_gravity_planned"]
        final = physics.final_gravity(pitched, given["yeast_attenuation"])
        hot = physics.at_temperature(self["brewed_preboil_volume"], 20, min(100, self["boiling_temp_in_C"]))
        mashed, boiling = given["mash_temp"], self["boiling_temp_in_C"]
        self.put_if(
            "malts_unknown",
            original_gravity_in_SG=pitched,
            final_gravity_in_SG=final,
            alcohol=physics.alcohol(pitched, final),
            water_in_L=water,
            strike_water_in_L=strike,
            sparge_water_in_L=water - strike,
            mashout_units=physics.pasteur_units(given["mash_mashout_time"], given["mash_mashout_temp"]),
            evaporated_in_L=self["brewed_evaporated"],
            planned_preboil_volume_in_L=self["brewed_preboil_volume"],
            planned_preboil_gravity_in_SG=gravity,
            hot_preboil_volume_in_L=hot,
            heat_used=physics.heating(water, given["chill_coolant_temp"], mashed)
            + physics.heating(self["brewed_preboil_volume"], mashed, boiling)
            + physics.evaporating(self["brewed_evaporated"]),
            fermenter_volume_planned_in_L=self["pitch_volume_planned"],
            packaged_volume_in_L=max(0.0, self["pitch_volume_planned"] - given["kettle_fermenter_loss"]),
        )
        self.put_if(
            "color_unknown",
            color_in_EBC=physics.color(
                [(malt["kilograms"], malt.get("color") or 0) for malt in self.weighed], self["wort_volume"]
            ),
        )
        unknown = self["malts_unknown"] or self["hops_unknown"] or pitched <= 1
        self.put(
            strike_temp_in_C=physics.strike_temp(mashed, given["mash_grain_temp"], given["mash_ratio"])
            if grain
            else None,
            bitterness=self["bitterness_planned"],
            dms=self["dms_planned"],
            boil_length_in_min=self["brewed_minutes"],
            balance=None if unknown else self["bitterness_planned"] / (1000 * (pitched - 1)),
        )
        for malt in self.weighed:
            scale = None if self["malts_unknown"] else self["malts_scale"]
            self.put(**{f"malt_{malt['n']}_wanted": None if scale is None else malt["kilograms"] * scale})
        aim = given["batch_bitterness"]
        for n in range(1, 13):
            self.put(**{f"hop_{n}_label": given[f"hop_{n}_name"] or f"Row {n}"})
        for n in range(1, 9):
            self.put(**{f"malt_{n}_label": given[f"malt_{n}_name"] or f"Row {n}"})
        chosen = given["batch_bittering"]
        found = total(hop["found"][chosen] for hop in self.hops)
        for hop in self.hops:
            self.put(**{f"hop_{hop['n']}_bitterness": hop["found"][chosen]})
        counted = {hop["n"] for hop in self.hops}
        self.put(**{f"hop_{n}_bitterness": None for n in range(1, 13) if n not in counted})
        for row in given.rows("hop", 12):
            each = self.of_one_gram(row, chosen)
            wanted = None
            if aim is not None and each and not self.hops_missing - {row["n"]}:
                wanted = (row.get("mass") or 0.0) + (aim - found) / each
                wanted = None if wanted < 0 else wanted  # without it there is more than that
            self.put(**{f"hop_{row['n']}_wanted": wanted})

    def of_one_gram(self, row: dict[str, Any], method: str) -> float | None:
        """What a gram of this addition brings; a row need not have a mass yet."""
        stand = row.get("stand_temp")
        too_hot = stand is not None and stand > self["boiling_temp_in_C"] + 0.5
        if row.get("alpha") is None or row.get("time") is None or too_hot:
            return None
        return self.bitterness(row | {"stand": stand}, method, 1.0, min(row["time"], self.given["boil_time"]))

    def lauter(self) -> None:
        """What mash and sparge can bring of the malts' extract, against what is assumed."""
        given, grain = self.given, self["grain_in_kg"]
        share, how = given["mash_efficiency"], given["mash_sparge"]
        unknown = self["malts_unknown"]
        batches = {"one batch": 1, "two batches": 2, "three batches": 3, "four batches": 4}.get(how, 12)
        bound = one = None
        if grain and not unknown:
            whole = total(malt["whole"] for malt in self.weighed if malt["goes"] == "mash")
            strike, sparge = self["strike_water_in_L"], self["sparge_water_in_L"]
            stays = (given["mash_absorption"], given["mash_loss"])
            bound, one = (physics.lautered(whole, grain, strike, sparge, n, *stays) for n in (batches, 1))
            if bound is None:
                unknown = "so much grain holds all of the water, or the wort is too strong"
        stated = bound is not None and (not self["sparge_water_in_L"] or batches < 12)
        known = bound if how is not None else one
        over = known is not None and share > known
        self.put(
            lauter_bound=bound,
            lauter_one=one,
            lauter_most=bound,
            lauter_unknown=unknown,
            lauter_too_much=int(over and stated and share > (bound or 0)),
            lauter_unsure=int(over and not stated),
        )

    def put_if(self, unknown: str, **values: Any) -> None:
        """Nothing while what it rests on isn't known."""
        self.named |= dict.fromkeys(values) if self[unknown] else values

    # -- the brew day ------------------------------------------------------------------------------------------------

    def day(self) -> None:
        given = self.given
        rate = self["boil_rate_used"]
        before = self.reading("preboil", self["brewed_preboil_volume"], self["brewed_preboil_gravity"])
        planned = self["brewed_minutes"] if given["boil_for"] is None else given["boil_for"]
        boiled_then = given["midboil_minutes"] or 0.0
        middle = self.reading("midboil", *physics.with_water(*before, -rate * boiled_then / 60))
        boiled = planned if given["boiled_minutes"] is None else given["boiled_minutes"]
        rest = max(0.0, boiled - boiled_then)
        after = self.reading("postboil", *physics.with_water(*middle, -rate * rest / 60))
        self.put(boil_minutes_now=planned, boiled_minutes_used=boiled, minutes_to_go=max(0.0, planned - boiled_then))
        self.shortest()
        self.forecast("before", before, planned, 0.0, "preboil")
        self.forecast("during", middle, self["minutes_to_go"], boiled_then, "midboil")
        self.after(before, after, boiled)
        self.schedule(planned)

    def reading(self, when: str, volume: float, gravity: float) -> tuple[float, float]:
        """A reading counts with the temperature it was read at; what isn't read is as expected."""
        given = self.given
        read_volume = read_gravity = None
        if given[f"{when}_volume"] is not None and given[f"{when}_volume_temp"] is not None:
            read_volume = physics.at_temperature(given[f"{when}_volume"], given[f"{when}_volume_temp"], 20)
        if given[f"{when}_gravity"] is not None:
            if given[f"{when}_gravity_temp"] is not None:
                read_gravity = physics.hydrometer(
                    given[f"{when}_gravity"], given[f"{when}_gravity_temp"], given["instruments_hydrometer_temp"]
                )
        elif given[f"{when}_brix"] is not None:
            read_gravity = physics.refractometer(given[f"{when}_brix"], given["instruments_refractometer_factor"])
        used = (volume if read_volume is None else read_volume, gravity if read_gravity is None else read_gravity)
        self.put(
            **{
                f"{when}_volume_expected": volume,
                f"{when}_gravity_expected": gravity,
                f"{when}_volume_read": read_volume,
                f"{when}_gravity_read": read_gravity,
                f"{when}_volume_used": used[0],
                f"{when}_gravity_used": used[1],
            }
        )
        return used

    def shortest(self) -> None:
        """The shortest boil that readings may lead to, and why no shorter."""
        earliest = max([0.0, *(hop["brewed minutes"] for hop in self.hops if hop["stand"] is None)])
        needed = self["boil_needed"]
        planned = self["brewed_minutes"]
        found = min(planned, max(15, earliest, planned if needed is None else needed))
        if needed is None:
            why = "the plan has, as how long the malt needs isn't known"
        elif needed >= earliest and needed >= found:
            why = "DMS asks for"
        else:
            why = "the first hops need" if earliest >= found else "a boil needs at least"
        self.put(earliest_hop=earliest, shortest_boil=found, shortest_boil_reason=why)

    def forecast(self, stage: str, wort: tuple[float, float], minutes: float, boiled: float, reading: str) -> None:
        """What boiling on as planned leads to, and what would bring the gravity wanted."""
        rate, wanted = self["boil_rate_used"], self["kettle_wanted"]
        volume, gravity = physics.with_water(*wort, -rate * minutes / 60)
        needed: float | None = None
        if wort[1] >= wanted:
            needed = 0.0
        elif rate and wort[1] > 1.0001:  # water gets no heavier
            needed = -60 * physics.water_down_to(*wort, wanted) / rate
        water = physics.water_down_to(volume, gravity, wanted) if gravity > wanted else 0.0
        more = physics.extract_up_to(volume, gravity, wanted) if gravity < wanted else 0.0
        self.put_if(
            "malts_unknown",
            **{
                f"{stage}_volume_in_L": volume,
                f"{stage}_gravity_in_SG": gravity,
                f"{stage}_minutes_in_min": needed,
                f"{stage}_water_to_add_in_L": water,
                f"{stage}_extract_to_add_in_kg": more,
            },
        )
        floor = max(0.0, self["shortest_boil"] - boiled)
        longer = None if needed is None else physics.with_water(*wort, -rate * needed / 60)[0]
        said = self.advice(stage, reading, (volume, gravity), longer, minutes, boiled, needed, floor)
        self.put(**{f"advice_{stage}": said})
        shown = None if self["malts_unknown"] or longer is None else longer / FACTORS[self.unit("batch_volume")]
        self.put(**{f"{stage}_volume_if_longer": shown})

    def after(self, before: tuple[float, float], after: tuple[float, float], boiled: float) -> None:
        """What came out of the boil, made up and in the fermenter, and what it will become."""
        given, wanted = self.given, self["kettle_wanted"]
        both = self.read("preboil", both=True) and self.read("postboil", both=True)
        change = physics.extract(*after) / physics.extract(*before) - 1 if both and before[1] > 1 else None
        rate = self["boil_rate_used"]
        if both and boiled > 0:
            rate = max(0.0, before[0] * before[1] - after[0] * after[1]) / (boiled / 60)
        cooling = given["chill_cooling"]
        stood = self["stand_minutes"] if given["stood_minutes"] is None else given["stood_minutes"]
        stood_temp = self["stand_at"] if given["stood_temp"] is None else given["stood_temp"]
        chilled = given["chill_time"] if given["chilled_minutes"] is None else given["chilled_minutes"]
        start = stood_temp if given["chill_start_temp"] is None else given["chill_start_temp"]
        end, coolant, asks = given["chill_end_temp"], given["chill_coolant_temp"], ""
        if end is not None and end <= coolant:
            coldest = self.shown("chill_coolant_temp", 1, given=True)
            asks = look(f"no wort cools as far as its cooling water: {coldest} on the plan.")
        elif end is not None and given["chill_start_temp"] is not None and end > start:
            asks = look("warmer at the end than when chilling began.")
        measured = None not in (given["chill_start_temp"], end, given["chilled_minutes"]) and not asks
        self.put(chill_end_read=end, chill_asks=asks)
        if measured:
            cooling = math.log((start - coolant) / (given["chill_end_temp"] - coolant)) / chilled
        at = self["boiling_temp_in_C"] if not stood else min(self["boiling_temp_in_C"], stood_temp)
        hot = self.hot_side(chilled, cooling, stood, at)
        water, dry = given["water_added"] or 0.0, given["extract_added"] or 0.0
        made = after
        if given["water_added"] is not None or given["extract_added"] is not None:
            made = physics.of_masses(physics.mass(*after) + water * physics.RHO + dry, physics.extract(*after) + dry)
        sent = max(0.0, made[0] - given["kettle_loss"])
        as_is = not given["kettle_topup"] and not self.weight("fermenter")
        pitch_volume, pitch_gravity = (sent, made[1]) if as_is else self.pitched(sent, made[1])
        wort = made[0] * (pitch_volume / sent if sent else 1)
        fermenter = pitch_volume if given["fermenter_volume"] is None else given["fermenter_volume"]
        equivalent = hot.equivalent_minutes()
        self.put(
            preboil_measured=int(self.read("preboil", both=True)),
            postboil_measured=int(self.read("postboil", both=True)),
            extract_change=change,
            actual_rate=rate,
            actual_evaporation=min(0.4, rate / ((before[0] + after[0]) / 2)),
            actual_cooling=cooling,
            made_up_volume=made[0],
            made_up_gravity=made[1],
            pitch_gravity_now=pitch_gravity,
            pitch_volume_now=pitch_volume,
            final_wort_volume=wort,
            day_load=self["precursor_load"] * self["wort_volume"] / wort,
            real_after_boil_kinetic=equivalent,
            real_after_boil=max(0.0, equivalent - 2),
            stood_minutes_used=stood,
            fermenter_volume_used=fermenter,
            measured_boil_rate_in_L_h=rate if both and given["boiled_minutes"] is not None else None,
            measured_cooling=cooling if measured else None,
            reading_state="not both taken yet"
            if change is None
            else look("repeat a reading")
            if abs(change) > 0.03
            else "they agree",
        )
        grain = total(malt["whole"] for malt in self.weighed if malt["goes"] == "mash")
        dissolved = self["kettle_extract"] - self["mash_extract"]
        efficiency = None
        if self["preboil_measured"] and self["grain_in_kg"]:
            efficiency = max(0.0, physics.extract(*before) - dissolved) / grain
        self.put(measured_efficiency=efficiency)
        final = physics.final_gravity(pitch_gravity, given["yeast_attenuation"])
        self.put_if(
            "malts_unknown",
            final_water_to_add_in_L=physics.water_down_to(*after, wanted) if after[1] > wanted else 0.0,
            final_extract_to_add_in_kg=physics.extract_up_to(*after, wanted) if after[1] < wanted else 0.0,
            final_volume_in_L=made[0],
            final_gravity_made_in_SG=made[1],
            pitch_gravity_in_SG=pitch_gravity,
            final_alcohol=physics.alcohol(pitch_gravity, final),
            pitch_cells=given["fermentation_pitch_rate"] * fermenter * physics.plato(pitch_gravity),
            final_packaged_in_L=max(0.0, fermenter - given["kettle_fermenter_loss"]),
        )
        self.put(advice_after=self.advice_after(after[1], wanted))
        if self["precursor_unknown"]:
            self.put(final_dms=None, day_dms=None, day_dms_low=None, day_dms_high=None)
        else:
            self.dms("day", boiled, "actual_evaporation", hot, "day_load")
            for unused in ("day_needed", "day_needed_low", "day_needed_high", "day_verdict"):
                del self.named[unused]
            self.put(final_dms=self["day_dms"])
        self.real_bitterness(after, hot, boiled, wort, cooling, chilled, stood)

    def real_bitterness(
        self, after: tuple[float, float], hot: HotSide, boiled: float, wort: float, cooling: float, chilled: float,
        stood: float,
    ) -> None:  # fmt: skip
        """Of the beer as it was brewed: real times, gravities, volume and chilling."""
        sums = dict.fromkeys(METHODS, 0.0)
        for hop in self.hops:
            planned = hop["brewed minutes"]
            if hop["stand"] is None:
                planned = min(planned, self["boil_minutes_now"])
                real = max(0.0, planned + boiled - self["boil_minutes_now"])
                start = physics.with_water(*after, self["actual_rate"] * real / 60)[1]
                gravity = (start + after[1]) / 2
            else:
                real = max(0.0, planned + stood - self["stand_minutes"])
            for m in METHODS:
                if hop["stand"] is None:
                    later = self["real_after_boil_kinetic" if m == "kinetic" else "real_after_boil"]
                    used = physics.utilization(m, min(240, real + later), gravity, self["boiling_temp_in_C"])
                else:
                    at = min(hop["stand"], self["boiling_temp_in_C"])
                    used = 0.5 * HotSide(at, hot.coolant, cooling, chilled).isomerised(real)
                sums[m] += physics.bitterness(hop["brewed grams"], hop["alpha"], used, wort)
        self.put_if(
            "hops_unknown",
            final_bitterness=sums[self.given["batch_bittering"]],
            final_bitterness_low=min(sums.values()),
            final_bitterness_high=max(sums.values()),
        )

    def schedule(self, planned: float) -> None:
        """Additions in the order they go in: boiled ones by their minutes, then the stands from the hottest on."""

        def order(hop: dict[str, Any]) -> tuple[bool, float, int]:
            stands = hop["stand"] is not None
            return stands, -(hop["stand"] if stands else hop["brewed minutes"]), hop["n"]

        start = self.given["boil_start"]
        for place, hop in enumerate(sorted(self.hops, key=order), 1):
            stands = hop["stand"] is not None
            minutes = hop["brewed minutes"] if stands else min(hop["brewed minutes"], planned)
            clock: Any = "after the boil" if stands else None
            if start is not None and not stands:
                begun = start.hour / 24 + start.minute / 1440
                clock = (begun + (planned - minutes) / 1440) % 1
            self.put(
                **{
                    f"schedule_{place}_minutes": minutes,
                    f"schedule_{place}_mass": hop["brewed grams"],
                    f"schedule_{place}_clock": clock,
                }
            )
            self.placed[f"schedule_{place}_minutes B"] = hop["label"] + (" (stand)" if stands else "")
            self.placed[f"schedule_{place}_minutes F"] = "" if stands else max(0.0, planned - minutes)
            self.placed[f"schedule_{place}_mass D"] = self.unit("hops_mass")
        for place in range(len(self.hops) + 1, 13):
            self.put(**dict.fromkeys(f"schedule_{place}_{what}" for what in ("minutes", "mass", "clock")))
            for at in "BDF":
                self.placed[f"schedule_{place}_minutes {at}"] = ""

    # -- fermentation ------------------------------------------------------------------------------------------------

    def fermentation(self) -> None:
        given = self.given
        original = self["pitch_gravity_now"] if given["fermenter_gravity"] is None else given["fermenter_gravity"]
        wort_read = any(given[name] is not None for name in ("fermenter_gravity", "postboil_gravity", "postboil_brix"))
        known = original > 1.0001 and (wort_read or not self["malts_unknown"])
        fast = given["fast_ferment_gravity"]
        expected = fast if fast is not None else None
        if expected is None and known:
            expected = physics.final_gravity(original, given["yeast_attenuation"])
        factor = given["instruments_refractometer_factor"]
        wort_brix = self.wort_brix(original, known, factor)
        readings = []
        for row in given.rows("reading", 14):
            gravity = None
            if row.get("gravity") is not None:
                t = 20.0 if row.get("gravity_temp") is None else row["gravity_temp"]
                gravity = physics.hydrometer(row["gravity"], t, given["instruments_hydrometer_temp"])
            elif row.get("brix") is not None and wort_brix is not None:
                if row["brix"] >= wort_brix:
                    gravity = physics.refractometer(row["brix"], factor)
                else:
                    gravity = physics.beer_refractometer(wort_brix, row["brix"], factor)
            self.put(**{f"reading_{row['n']}_used": gravity})
            if row.get("day") is not None:
                temp = physics.ramp(
                    row["day"],
                    *(given[f"fermentation_{key}"] for key in ("temp", "ramp_day", "end_temp", "per_day")),
                )
                self.put(**{f"reading_{row['n']}_set": temp})
            if gravity is not None:
                readings.append((row.get("day"), gravity, row.get("gravity") is not None))
        dated = [reading for reading in readings if reading[0] is not None]
        hydrometer = [(day, gravity) for day, gravity, by_hydrometer in dated if by_hydrometer]
        latest_day = max((day for day, _, _ in dated), default=-1)
        hydrometer_day = max((day for day, _ in hydrometer), default=-1)
        latest: float
        if not dated:
            latest = original if known else 1.0
        elif hydrometer_day == latest_day:
            latest = next(gravity for day, gravity in hydrometer if day == latest_day)
        else:
            latest = next(gravity for day, gravity, _ in dated if day == latest_day)
        now = min(latest, original) if known else latest
        lowest = now if expected is None else min(now, expected)
        days_wanted = 2
        if (not wort_read and fast is None) or expected is None or latest < expected - 0.00205:
            days_wanted = 7  # what to expect is not sure
        # within a point of the latest: no more than a third of one above it, as gravity only falls
        differing = [(day, g) for day, g in hydrometer if g - latest > 0.00035 or latest - g > 0.00105]
        differing_day, differing_gravity = max(differing, default=(-1, latest))
        agreeing = [day for day, _ in hydrometer if day > differing_day]
        steady = max(-1, hydrometer_day - min(agreeing, default=1_000_000))
        to_come = None
        if known and dated and expected is not None and latest >= expected:
            to_come = physics.co2_to_come(original, now, expected)
        a_gram, a_mL, living = (
            given[f"yeast_{key}"] for key in ("cells_per_gram", "slurry_density", "slurry_viability")
        )
        cells = given["fermentation_pitch_rate"] * self["fermenter_volume_used"] * physics.plato(original)
        if a_mL is not None and living is None:
            self.saying("Fermentation")("as slurry: how many live?")
        self.put(
            dry_yeast=cells / a_gram if known and a_gram is not None else None,
            slurry=cells / (a_mL * living) if known and a_mL is not None and living is not None else None,
            fermenter_gravity_used=original,
            expected_final_in_SG=expected,
            yeast_cells=cells if known else None,
            gravity_now_in_SG=latest if dated else None,
            attenuation_now=physics.attenuation(original, now) if known and dated else None,
            alcohol_now=physics.alcohol(original, now) if known and dated else None,
            alcohol_expected=physics.alcohol(original, lowest) if known else None,
            energy=physics.energy(original, lowest) if known else None,
            latest_day=latest_day,
            latest_gravity=latest,
            lowest_final=lowest,
            steady_days=steady,
            days_wanted=days_wanted,
            differing_day=differing_day,
            differing_gravity=differing_gravity,
            co2_to_come=to_come,
        )
        self.known, self.dated, self.hydrometer_day = known, dated, hydrometer_day
        self.undated = len(readings) > len(dated)
        self.put(gravity_steady=self.steadiness())
        rise = abs(given["fermentation_end_temp"] - given["fermentation_temp"]) / given["fermentation_per_day"]
        self.put(ramp_end_day=given["fermentation_ramp_day"] + rise)
        self.package(lowest)

    def wort_brix(self, original: float, known: bool, factor: float) -> float | None:
        """Of the wort before the yeast: as the refractometer read it after the boil, where that is the wort."""
        given = self.given
        other = given["postboil_gravity"] is not None or given["fermenter_gravity"] is not None
        as_read = abs(self["pitch_gravity_now"] - self["postboil_gravity_used"]) < 0.00005
        if given["postboil_brix"] is not None and not other and as_read:
            return float(given["postboil_brix"])
        return physics.plato(original) * factor if known else None

    def package(self, lowest: float) -> None:
        given = self.given
        warmest = given["warmest_temp"]
        if warmest is None:
            warmest = max(given["fermentation_temp"], given["fermentation_end_temp"])
        self.put(warmest_temp_used=warmest)
        residual = physics.residual_co2(warmest, given["boil_altitude"])
        wanted = max(given["package_target"], residual)
        bottles = given["package_kind"] == "bottles"
        volume = given["package_volume"]
        if volume is None and self.known:
            volume = max(0.0, self["fermenter_volume_used"] - given["kettle_fermenter_loss"])
        steady = self["gravity_steady"] == "Steady"
        in_all = wanted if steady else None
        if self["co2_to_come"] is not None:
            in_all = wanted + self["co2_to_come"]
        pressure = None
        if in_all is not None and in_all <= 5:
            pressure = physics.co2_pressure(self.warmest_in_package(), in_all, given["boil_altitude"])
        sugar, bottle = given["package_sugar"], given["package_bottle"]
        in_bottles = bottles and volume is not None
        alcohol = None
        if self.known:
            alcohol = physics.alcohol(self["fermenter_gravity_used"], lowest)
            if bottles:
                alcohol += physics.priming_alcohol(wanted - residual)
        self.put(
            package_volume_used=volume,
            residual_co2=residual,
            volumes_wanted=wanted,
            co2_in_all=in_all,
            pressure_warmest_in_bar=pressure,
            pressure_wanted_in_bar=physics.co2_pressure(
                self.warmest_in_package(), min(5, wanted), given["boil_altitude"]
            ),
            priming_sugar_in_g=physics.priming(volume, wanted - residual, sugar) if in_bottles else None,
            bottle_sugar_in_g=physics.priming(bottle / 1000, wanted - residual, sugar)
            if bottles and bottle is not None
            else None,
            bottle_count=math.floor(1000 * volume / bottle) if in_bottles and bottle is not None else None,
            package_pressure_in_bar=None
            if bottles
            else physics.co2_pressure(given["package_temp"], given["package_target"], given["boil_altitude"]),
            alcohol_packaged=alcohol,
        )
        self.put(package_state=self.verdict(), package_why=self.why())

    # -- cleaning ----------------------------------------------------------------------------------------------------

    def cleaning(self) -> None:
        given = self.given
        any_rate = False
        for kind in ("acid", "chlorine"):
            start = f"cleaning_{kind}_"
            dose, water, most = (given[start + key] for key in ("label_dose", "label_water", "label_most"))
            volume, poured = given[start + "volume"], given[start + "poured"]
            rate = dose / water if dose is not None and water is not None else None
            any_rate = any_rate or rate is not None
            by_label = rate * volume if rate is not None and volume is not None else None
            times = poured / by_label if by_label is not None and poured is not None else None
            over = None if times is None else times if most is None else times * dose / most
            share, density = given[start + "share"], given[start + "density"]
            used = by_label if poured is None else poured
            strength = None
            if by_label is not None and share is not None and density is not None:
                if kind == "acid":
                    strength = physics.acid_strength(used / volume, share, density)
                else:
                    strength = physics.chlorine_strength(used, volume, share, density)
            if rate is None:
                unnamed = given[start + "name"] is None and poured is None
                state: Any = "Not in use" if unnamed else look("the label's dose is missing")
            elif by_label is None:
                state = look("how much water?")
            elif times is None or over is None:
                state = "Nothing poured yet"
            elif over > 1.001:
                state = look("too strong, rinse as it says")
            else:
                state = look("off the label's dose") if abs(times - 1) > 0.1 else "As the label says"
            self.put(
                **{
                    f"{kind}_dose_in_mL": by_label,
                    f"{kind}_times": times,
                    f"{kind}_over": over,
                    f"{kind}_strength": strength,
                    f"{kind}_state": state,
                }
            )
        strength = self["acid_strength"]
        humidity = given["cleaning_humidity"]
        if strength is None:
            self.put(
                **dict.fromkeys(("acid_ph", "dried_acid", "dried_factor", "residue", "nonvolatile", "water_that_stays"))
            )
        else:
            driest = physics.driest_acid(humidity)
            poured = given["cleaning_acid_poured"]
            poured = self["acid_dose_in_mL"] if poured is None else poured
            solids = given["cleaning_acid_solids"]
            solids = given["cleaning_acid_share"] if solids is None else solids
            self.put(
                acid_ph=physics.acid_ph(strength, given["cleaning_alkalinity"]),
                dried_acid=driest,
                dried_factor=driest / (strength / 1e6),
                residue=given["cleaning_film"] * given["cleaning_area"] * strength / 1000,
                nonvolatile=poured / (poured + 1000 * given["cleaning_acid_volume"]) * solids,
                water_that_stays=min(1.0, strength / 1e6 * (1 - driest) / driest),
            )
        minutes = physics.dry_minutes(
            *(given[f"cleaning_{key}"] for key in ("film", "air_temp", "humidity", "air_moves"))
        )
        self.put(film_minutes=minutes if any_rate else None)

    # -- what is shown again, asked for or counted -------------------------------------------------------------------

    def shown_again(self) -> None:
        given = self.given
        unknown = bool(self["malts_unknown"])
        for side in ("old", "new"):
            self.put(**{f"{side}_{what}_shown": self[f"{side}_{what}"] for what in ("dms", "needed")})
        first = next((hop for hop in self.hops if hop["n"] == 1), None)
        for m in METHODS:
            more = 1.0 if first is None else self[f"new_1_{_name(m)}_in_g"] / first["grams"]
            self.put(**{f"first_{_name(m)}": more})
        for hop in self.hops:
            n, stands = hop["n"], hop["stand"] is not None
            self.put(**{f"new_{n}_minutes": hop["time"] if stands else hop["new"], f"new_{n}_mass": hop["new grams"]})
        mashed = self["strike_temp_in_C"] is not None
        self.put(
            day_water_in_L=self["water_in_L"],
            day_strike_water_in_L=self["strike_water_in_L"],
            day_strike_temp_in_C=self["strike_temp_in_C"],
            day_sparge_water_in_L=self["sparge_water_in_L"],
            day_mash_temp_in_C=given["mash_temp"] if mashed else None,
            day_mash_time_in_min=given["mash_time"] if mashed else None,
            day_mashout_temp_in_C=given["mash_mashout_temp"] if mashed and given["mash_mashout_time"] else None,
        )
        for when in ("preboil", "midboil", "postboil"):
            hidden = unknown or (when == "midboil" and given["midboil_minutes"] is None)
            for what in ("volume", "gravity"):
                expected = None if hidden else self[f"{when}_{what}_expected"]
                self.put(**{f"{when}_{what}_plan": expected, f"{when}_{what}_cold": self[f"{when}_{what}_read"]})
            asks: Any = ""
            for what, word in (("gravity", "sample"), ("volume", "wort")):
                if given[f"{when}_{what}"] is not None and given[f"{when}_{what}_temp"] is None:
                    asks = look(f"how warm was the {word}? Without it the {what} isn't used.")
            self.put(**{f"{when}_asks": asks})
        assumed = []
        for malt in self.weighed:
            if malt.get("yield") is None:
                share = fixed(100 * malt["whole"] / malt["kilograms"])
                assumed.append(f"{malt['label']}: {share} % extract, as {malt['kind']}")
            elif malt["by itself"]:
                assumed += [malt["label"], "into the kettle"]
        self.put(malts_assumed="; ".join(assumed))
        if given["batch_date"] is not None:
            start = (given["batch_date"] - datetime.date(1899, 12, 30)).days
            for row in given.rows("reading", 14):
                day = row.get("day")
                self.put(**{f"reading_{row['n']}_date": None if day is None else start + day})

    # -- charts and the sentences above them -------------------------------------------------------------------------

    def charts(self) -> None:
        """What each chart draws, by the title of its table on Workings; `says` are sentences, by their sheets."""
        given, gravity = self.given, self["kettle_gravity"]
        old, new = given["boil_time"], given["shorter_time"]
        longest = max(old, new)
        first = next((hop for hop in self.hops if hop["n"] == 1), None)
        hot = self.hot_side(given["chill_time"], given["chill_cooling"], self["stand_minutes"], self["stand_at"])

        def bitter(method: str, minutes: float) -> float:
            if first is None:
                return 0.0
            used = physics.utilization(method, minutes, gravity, self["boiling_temp_in_C"])
            return physics.bitterness(first["grams"], first["alpha"], used, self["wort_volume"])

        def dms(minutes: float, load: str) -> float:
            if load == "precursor_load" and self["precursor_unknown"]:
                return -1.0
            own = (given["dms_volatility"], given["dms_precursor_half_life"])
            return hot.dms(self[load], minutes, self["new_evaporation"], *own, self["stand_evaporation"])

        def kettle(left: float) -> tuple[float, float]:
            gone = self["boil_rate_used"] * left / 60
            volume, heavier = physics.with_water(given["batch_volume"], gravity, gone)
            return volume / FACTORS[self.unit("batch_volume")], heavier

        along = [n / 20 for n in range(21)]
        self.tables["Charts: over the minutes of a boil"] = [
            [
                t,
                *(bitter(method, t) for method in ("tinseth", "kinetic", "rager smooth")),
                *(dms(t, load) for load in ("precursor_load", "old_style_load")),
                given["dms_limit"],
            ]
            for t in (max(60, longest) * share for share in along)
        ]
        self.tables["Charts: volume and gravity over the longer boil"] = [
            [t, longest - t, *kettle(longest - t)] for t in (longest * share for share in along)
        ]
        if first is not None and first["stand"] is None:
            self.tables["Charts: the two boils marked"] = [
                [
                    t,
                    bitter("tinseth", t),
                    boil,
                    -1.0 if self["precursor_unknown"] else self[f"{side}_dms"],
                    longest - boil,
                    kettle(boil)[0],
                ]
                for side, boil, t in (("old", old, first["boiled"]), ("new", new, first["new"]))
            ]
        left = (0, 0.001, 0.002, 0.005, 0.01, 0.02, 0.05, *(n / 10 for n in range(1, 11)))
        strong: list[list[Any]] = [[-1.0, 1.0]] * len(left)  # left of the chart's edge, where nothing is known
        mark: list[list[Any]] = [[-1.0, 1.0]]
        if self["acid_strength"] is not None:
            f, stays = self["nonvolatile"], self["water_that_stays"]
            strong = [[100 * share, physics.dry_factor(f, share)] for share in left]
            mark = [[100 * stays, physics.dry_factor(f, stays)]]
        self.tables["Chart: how many times stronger against the water left, %"] = strong
        self.tables["Mark: where this air lets it be"] = mark
        self.fermentation_chart()
        ramp_day, temp, unit = (
            given["fermentation_ramp_day"],
            given["fermentation_temp"],
            self.unit("fermentation_temp"),
        )
        days = max(14, self["latest_day"], self["ramp_end_day"] + 2)

        def set_to(day: float) -> float:
            t = physics.ramp(day, temp, ramp_day, given["fermentation_end_temp"], given["fermentation_per_day"])
            return in_unit(t, "°C", unit)

        self.tables["Chart: temperature to set"] = [
            [day, set_to(day)] for day in (0, ramp_day, self["ramp_end_day"], days)
        ]
        self.sentences(first, set_to(0), set_to(1000), unit)

    def fermentation_chart(self) -> None:
        """The readings, each row without one like the point before it, and the gravity to expect."""
        point = [0.0, self["fermenter_gravity_used"]] if self.known else [-1.0, 1.0]
        points = [point]
        for n in range(1, 15):
            day, gravity = self.given[f"reading_{n}_day"], self.named.get(f"reading_{n}_used")
            if day is not None and gravity is not None:
                point = [day, gravity]
            points.append(point)
        self.tables["Chart: gravity"] = points
        expected = self["expected_final_in_SG"]
        days = max(14, self["latest_day"], self["ramp_end_day"] + 2)
        self.tables["Chart: final gravity to expect"] = [
            [-1.0, 1.0] if expected is None else [day, expected] for day in (0.0, days)
        ]

    def beside(self) -> dict[str, Any]:
        """Cells without a name, by the name of one in their row and their column."""
        found: dict[str, Any] = dict(self.placed)
        self.beside_hops(found)
        self.beside_readings(found)
        found |= {"malt_1_wanted D^": self.unit("malts_mass"), "hop_1_wanted L^": self.unit("hops_mass")}
        for name in ("water", "strike_water", "sparge_water"):
            found[f"day_{name} E"] = self.unit("batch_volume")
        if self.plan.has_water:
            found["blend_volume C^"] = self.unit("batch_volume")
            found |= {f"blend_{key}": self.unit("water_alkalinity") for key in ("alkalinity J^", "residual K^")}
        for name in ("strike_temp", "mash_temp", "mashout_temp"):
            found[f"day_{name} E"] = self.unit("mash_temp")
        for when in ("preboil", "midboil", "postboil"):
            for what in ("volume", "gravity"):
                name = f"{when}_{what}"
                found[f"{name}_cold E"] = self.unit(name)
                read, expected = (self[f"{name}_{which}"] for which in ("read", "expected"))
                if read is None or self["malts_unknown"]:
                    found[f"{name}_cold F"] = ""
                elif self[f"{name}_plan"] is not None:
                    found[f"{name}_cold F"] = (read, expected)
        return found

    def beside_hops(self, found: dict[str, Any]) -> None:
        """The table of the shorter boil."""
        there = {hop["n"]: hop for hop in self.hops}
        for at in "DHIJKL":
            found[f"new_1_mass {at}^"] = self.unit("hops_mass")
        for row in self.given.rows("hop", 12):
            n, hop = row["n"], there.get(row["n"])
            start = f"new_{n}_mass"
            if hop is None:
                found |= dict.fromkeys((f"{start} {at}" for at in "CDHIJKM"), "")
                self.put(**dict.fromkeys((f"new_{n}_minutes", start)))
                found[f"{start} B"] = row.get("name") or ""
                continue
            for at, m in zip("HIJK", METHODS, strict=True):
                found[f"{start} {at}"] = self[f"new_{n}_{_name(m)}_in_g"]
            found[f"{start} B"] = (hop.get("name") or "") + ("" if hop["stand"] is None else " (stand)")
            found[f"{start} C"] = hop["time"]
            found[f"{start} D"] = hop["grams"]
            found[f"{start} M"] = hop["new grams"] / hop["grams"]

    def beside_readings(self, found: dict[str, Any]) -> None:
        """What stands in for a reading, what was expected of it, and what readings in the fermenter tell."""
        given = self.given
        for kind in ("acid", "chlorine"):
            poured = given[f"cleaning_{kind}_poured"]
            self.put(**{f"cleaning_{kind}_poured_used": self[f"{kind}_dose_in_mL"] if poured is None else poured})
        self.put(fast_ferment_gravity_used=given["fast_ferment_gravity"])
        for name, base in STAND_INS.items():
            used = self[f"{name}_used"]
            stands_in = used is not None and given[name] is None
            self.put(**{f"{name}_beside": int(stands_in)})
            found[f"{name} E"] = in_unit(used, base, self.unit(name)) if stands_in else ""
            found[f"{name} F"] = self.unit(name) if stands_in else ""
        self.put(boil_for_expected=self["brewed_minutes"], boiled_minutes_expected=self["boil_minutes_now"])
        self.put(stood_minutes_expected=self["stand_minutes"], stood_temp_expected=self["stand_at"])
        self.put(chilled_minutes_expected=given["chill_time"], fermenter_volume_expected=self["pitch_volume_now"])
        stood = self["stand_at"] if given["stood_temp"] is None else given["stood_temp"]
        self.put(chill_start_temp_expected=stood)
        for name, base in EXPECTED.items():
            unit = self.unit(name)
            expected = in_unit(self[f"{name}_expected"], base, unit)
            found[f"{name} C"] = expected
            found[f"{name} F"] = "" if given[name] is None else in_unit(given[name], base, unit) - expected
        original = self["fermenter_gravity_used"]
        for n in range(1, 15):
            gravity = self[f"reading_{n}_used"] if f"reading_{n}_used" in self.named else None
            seen = gravity is not None and self.known
            below = min(gravity, original) if seen else 0.0
            found[f"reading_{n}_used K"] = physics.attenuation(original, below) if seen else ""
            found[f"reading_{n}_used L"] = physics.alcohol(original, below) if seen else ""
            if given[f"reading_{n}_day"] is None:
                self.put(**{f"reading_{n}_set": None, f"reading_{n}_date": None})


#: readings with the value beside them that is used while they are blank; base units
STAND_INS = {
    "cleaning_acid_poured": "mL", "cleaning_chlorine_poured": "mL", "fast_ferment_gravity": "SG",
    "fermenter_gravity": "SG", "package_volume": "L", "warmest_temp": "°C",
}  # fmt: skip
#: readings of the brew day with what was expected of them
EXPECTED = {
    "boil_for": "min", "boiled_minutes": "min", "stood_minutes": "min", "stood_temp": "°C", "chill_start_temp": "°C",
    "chilled_minutes": "min", "fermenter_volume": "L",
}  # fmt: skip
