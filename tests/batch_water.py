"""What the sheet Water holds and says, from the plan alone; only of a plan that states something of its water.

Of the model in batch_model.py: written from the published formulas and from what the sheet says it does.
"""

from __future__ import annotations

import math
from typing import Any

from tests import batch_physics as physics
from tests.batch_words import Words, fixed, look

ENDS = ("low", "typical", "high")


class Water:
    """What the sheet Water holds; only of a plan that states something of its water."""

    #: kinds of malt by words in their names, as MASH_MALT_PH has them; "" is none of them
    KINDS = (
        ("", ("flaked", "rolled", "oat", "rye", "unmalted", "raw", "torrified")),
        ("acidulated", ("acidulated", "acid malt")),
        ("caramel", ("crystal", "caramel")),
        ("roasted", ("roast", "chocolate", "black")),
        ("wheat", ("wheat",)), ("munich", ("munich",)), ("vienna", ("vienna",)), ("pilsner", ("pils", "lager")),
        ("pale", ("pale",)), ("", ("",)),
    )  # fmt: skip
    IONS = ("calcium", "magnesium", "sodium", "chloride", "sulfate")

    def __init__(self, batch: Words) -> None:
        self.batch, self.given, self.put = batch, batch.given, batch.put
        self.known = not batch["malts_unknown"]
        self.volumes = {key: batch[f"{key}_water_in_L"] or 0.0 for key in ("strike", "sparge")} if self.known else {}
        self.mash_volume, self.sparge_volume = self.volumes.get("strike", 0.0), self.volumes.get("sparge", 0.0)
        self.tap()
        self.salts()
        self.contents()
        self.malts()
        self.mash()
        self.sparge()
        self.rules()

    def tap(self) -> None:
        given = self.given
        tap = {key: given[f"water_{key}"] for key in (*self.IONS, "alkalinity")}
        hardness = given["water_hardness"]
        weights = {"calcium": 40.078 / 2, "magnesium": 24.305 / 2}
        reason = ""
        for key, other in (("calcium", "magnesium"), ("magnesium", "calcium")):
            stated = given[f"water_{other}"]
            if tap[key] is None and hardness is not None and stated is not None:
                tap[key] = (hardness / physics.AS_CACO3 - stated / weights[other]) * weights[key]
                if tap[key] < 0:
                    reason = f"Hardness is less than {other} alone"
        for key in ("magnesium", "calcium", "alkalinity"):
            if tap[key] is None:
                reason = f"The tap water's {key} isn't stated"
        self.distilled = given["water_distilled"] or 0.0
        self.tapped = tap
        self.reason = "" if self.distilled == 1 else reason
        self.put(tap_unknown=self.reason, **{f"tap_{key}": value for key, value in tap.items()})

    def salts(self) -> None:
        rows = [row for row in self.given.rows("salt", 8) if row.get("name") or row.get("mass") is not None]
        missing = [row["n"] for row in rows if not row.get("name") or row.get("mass") is None]
        self.salts_reason = f"Salt in row {missing[0]}: its name or its mass is missing" if missing else ""
        whole = self.mash_volume + self.sparge_volume
        self.added: dict[str, list[tuple[str, float]]] = {"mash": [], "sparge": []}
        self.lime, self.count = 0.0, sum(bool(row.get("name")) for row in rows)
        for row in rows:
            grams, into = (row.get("mass") or 0.0) if row.get("name") else 0.0, row.get("into") or "both"
            self.lime += grams if row.get("name") == "slaked lime" else 0.0
            for water, volume in (("mash", self.mash_volume), ("sparge", self.sparge_volume)):
                part = grams if into == water else grams * volume / whole if into == "both" and whole else 0.0
                if part:
                    self.added[water].append((row["name"], part))
        dry = [water for water, volume in (("mash", self.mash_volume), ("sparge", self.sparge_volume)) if not volume]
        lost = self.known and any(self.added[water] for water in dry)
        self.lost = "A salt goes into a water that there is none of" if lost else ""
        self.put(salts_unknown=self.salts_reason, salts_lost=self.lost, salts_count=self.count, lime_in_g=self.lime)

    def contents(self) -> None:
        """mg/L in each water, and alkalinity as CaCO3."""
        self.waters: dict[str, dict[str, float | None]] = {}
        blend = {
            key: 0.0 if self.distilled == 1 else None if value is None or value < 0 else value * (1 - self.distilled)
            for key, value in self.tapped.items()
        }
        self.waters["blend"] = blend
        for name, water, volume in (
            ("mash_water", "mash", self.mash_volume),
            ("sparge_water", "sparge", self.sparge_volume),
        ):
            found: dict[str, float | None] = dict.fromkeys(blend)
            if volume and not self.salts_reason:
                for key, value in blend.items():
                    brought = math.fsum(grams * self.of_salt(salt, key) for salt, grams in self.added[water])
                    found[key] = None if value is None else value + 1000 * brought / volume
            self.waters[name] = found
        for name, water in self.waters.items():
            given = [water[key] for key in ("alkalinity", "calcium", "magnesium")]
            residual = None
            if None not in given and not self.reason:
                residual = given[0] - given[1] / 1.4 - given[2] / 1.7  # type: ignore[operator]
            water["residual"] = residual
            ions = {f"{name}_{key}_in_mg_L": value for key, value in water.items()}
            chloride, sulfate = water["chloride"], water["sulfate"]
            ratio = sulfate / chloride if chloride and sulfate is not None else None
            self.put(**ions, **{f"{name}_ratio": ratio}, **{f"{name}_{key}": water[key] for key in self.IONS})
        missing = self.reason or self.salts_reason or self.lost
        self.missing = missing
        self.put(waters_unknown=missing, waters_say=look(f"{missing}.") if missing else "")
        for name, of in (("blend", "water"), ("mash_water", "strike_water"), ("sparge_water", "sparge_water")):
            self.put(**{f"{name}_volume": self.batch[f"{of}_in_L"]})
        tap = (self.batch["water_in_L"] or 0.0) * (1 - self.distilled)
        chlorine, salt = self.given["water_chlorine"], self.given["water_metabisulfite"]
        self.put(
            tap_water_in_L=tap if self.known else None,
            distilled_water_in_L=self.batch["water_in_L"] * self.distilled if self.known else None,
            metabisulfite_mass=physics.metabisulfite(tap, chlorine, salt)
            if self.known and chlorine is not None
            else None,
        )

    @staticmethod
    def of_salt(salt: str, key: str) -> float:
        """g of an ion, or of alkalinity as CaCO3, that a gram of it brings."""
        weight, ions, charges = physics.SALTS[salt]
        return charges * physics.AS_CACO3 / weight if key == "alkalinity" else ions.get(key, 0.0) / weight

    def malts(self) -> None:
        """Of each malt in the mash: kg, and its pH and buffering as it is, and at the low and the high end."""
        self.mashed: list[tuple[float, tuple[float, ...], tuple[float, ...]]] = []
        for n in range(1, 9):
            self.put(**{f"malt_{n}_{what}": "" for what in ("named", "taken_as", "ph_taken")})
            self.put(**{f"malt_{n}_{what}_{end}": 0.0 for what in ("ph", "buffer") for end in ENDS})
        self.by_kind, unknown = 0, []
        for malt in self.batch.weighed:
            if malt["goes"] != "mash" or malt["kind"] in ("sugar", "syrup"):
                continue
            n, ph, buffering = malt["n"], malt.get("ph"), malt.get("buffering")
            self.put(**{f"malt_{n}_named": malt["label"]})
            kind = self.given.entries.get(f"malt_{n}_kind") or self.kind(malt)
            measured = ph is not None and buffering is not None
            self.by_kind += not measured
            if not measured and not kind:
                unknown.append(malt["label"])
                self.put(**{f"malt_{n}_taken_as": "Look: not known", f"malt_{n}_ph_taken": None})
                continue
            phs, buffers = physics.MALTS[kind] if kind else ((), ())
            phs = (ph,) * 3 if ph is not None else phs
            buffers = (buffering,) * 3 if buffering is not None else buffers
            self.mashed.append((malt["kilograms"], phs, buffers))
            self.put(**{f"malt_{n}_taken_as": "measured" if measured else kind, f"malt_{n}_ph_taken": phs[1]})
            for what, values in (("ph", phs), ("buffer", buffers)):
                self.put(**{f"malt_{n}_{what}_{end}": value for end, value in zip(ENDS, values, strict=True)})
        self.no_mash = not self.mashed and not unknown
        malts_reason = f"{unknown[0]}: state its kind, or measure its pH and buffering" if unknown else ""
        self.put(malts_ph_unknown=malts_reason, malts_by_kind=self.by_kind)
        self.unknown = (
            self.batch["malts_unknown"] or ("No mash" if self.no_mash else "") or malts_reason or self.missing
        )
        self.put(mash_ph_unknown=self.unknown)

    def kind(self, malt: dict[str, Any]) -> str:
        name, color = (malt.get("name") or "").lower(), malt.get("color")
        kind = next(kind for kind, words in self.KINDS if any(word in name for word in words))
        if kind != "caramel":
            return kind
        if color is None:
            return ""
        return "light caramel" if color <= 20 else "dark caramel" if color >= 60 else "caramel"

    def grist(self, ph: int, buffers: int) -> list[tuple[float, float, float]]:
        """All malts as one: their mean pH, weighed by typical buffering, and their mean buffering."""
        kilograms = math.fsum(malt[0] for malt in self.mashed)
        capacity = math.fsum(malt[0] * malt[2][1] for malt in self.mashed)
        mean = math.fsum(malt[0] * malt[2][1] * malt[1][ph] for malt in self.mashed) / capacity
        return [(kilograms, mean, math.fsum(malt[0] * malt[2][buffers] for malt in self.mashed) / kilograms)]

    def mash(self) -> None:
        given = self.given
        planned, acid = given["water_mash_acid_mass"] or 0.0, given["water_mash_acid"]
        share, wanted, read = (given[key] for key in ("water_mash_acid_share", "water_mash_ph", "mash_ph_read"))
        no_share = "The acid's strength isn't stated" if planned and share is None else ""
        without = forecast = low = high = needed = more = None
        if not self.unknown:
            water = self.mash_volume, self.waters["mash_water"]["residual"]
            assert water[1] is not None
            malts = [(malt[0], malt[1][1], malt[2][1]) for malt in self.mashed]
            without = physics.mash_ph(malts, *water)
            if not no_share:
                used = (planned, acid, share or 1)
                forecast = physics.mash_ph(malts, *water, *used)
                ends = [physics.mash_ph(self.grist(p, b), *water, *used) for p in (0, 2) for b in (0, 2)]
                low, high = min(forecast - 0.1, *ends), max(forecast + 0.1, *ends)
            if wanted is not None and share is not None:
                needed = physics.mash_acid(malts, *water, wanted, acid, share) if without > wanted else 0.0
                if read is not None:
                    as_read = [(kilograms, read, buffering) for kilograms, _, buffering in self.grist(1, 1)]
                    more = physics.mash_acid(as_read, 1, 0, wanted, acid, share) if read > wanted else 0.0
        now = forecast if read is None else read
        self.put(
            mash_acid_unknown=no_share, mash_ph_without=without, mash_ph_forecast=forecast, mash_ph_low=low,
            mash_ph_high=high, mash_acid_mass=needed, mash_acid_more_mass=more, mash_ph_now=now,
            mash_ph_apart=None if read is None or forecast is None else read - forecast,
        )  # fmt: skip
        density = given["water_mash_acid_density"]
        for name, grams in (("mash_acid", needed), ("mash_acid_more", more)):
            self.put(**{f"{name}_volume": None if grams is None or density is None else grams / density})
        self.mash_says(wanted, share, read)

    def weighed(self, name: str) -> str:
        volume = self.batch[f"{name}_volume"]
        grams = f"{fixed(self.batch[f'{name}_mass'], 1)} g"
        return grams if volume is None else f"{grams} ({fixed(volume, 1)} mL)"

    def mash_says(self, wanted: float | None, share: float | None, read: float | None) -> None:
        batch = self.batch
        low, high, more = batch["mash_ph_low"], batch["mash_ph_high"], batch["mash_acid_more_mass"]
        reason = self.unknown or batch["mash_acid_unknown"]
        by = "some go by their kind" if self.by_kind else "all are measured"
        if not batch["grain_in_kg"]:
            says = batch["malts_unknown"] or "No mash."
        elif reason:
            says = look(f"{reason}.")
        else:
            says = f"{fixed(low, 2)} to {fixed(high, 2)} as the malts' figures part: {by}. Measure it."
        if wanted is None or self.unknown:
            acid_says = ""
        elif share is None:
            acid_says = look("the acid's strength isn't stated.")
        elif not batch["mash_acid_mass"]:
            acid_says = "The mash is no higher than that without any acid."
        else:
            how = ": half of it first, stir, measure, then the rest."
            how = how if read is None else " by the estimate; go by the reading."
            acid_says = (
                f"{self.weighed('mash_acid')} of {self.given['water_mash_acid']} acid for pH {fixed(wanted, 2)}{how}"
            )
        within = low is not None and read is not None and low <= read <= high
        then = ""
        if more is not None and read is not None and wanted is not None:
            after = ". Once it is in, add it to Acid planned and read again." if within else ", should it stay so."
            then = f" {self.weighed('mash_acid_more')} more bring it to {fixed(wanted, 2)}{after}"
            then = f" Near enough to {fixed(wanted, 2)}." if round(read - wanted, 6) <= 0.05 else then
            then = then if more else " It needs no more acid."
        if read is None:
            read_says = "Not read yet."
        elif low is None:
            read_says = ""
        elif within:
            read_says = f"Within what the estimate tells.{then}"
        else:
            read_says = look(
                "further off than the estimate can be with the acid planned in it: read again, and try the meter in "
                f"its buffers.{then}"
            )
        self.put(mash_ph_says=says, mash_acid_says=acid_says, mash_read_says=read_says)

    def sparge(self) -> None:
        given = self.given
        mash_acid, share, density = (given[f"water_mash_acid{end}"] for end in ("", "_share", "_density"))
        acid = given["water_sparge_acid"] or mash_acid
        own_share, own_density = given["water_sparge_acid_share"], given["water_sparge_acid_density"]
        if own_density is not None or own_share is not None or acid != mash_acid:
            density = own_density
        share = own_share if own_share is not None else share if acid == mash_acid else None
        water, wanted, ph = self.waters["sparge_water"]["alkalinity"], given["water_sparge_ph"], given["water_ph"]
        if not self.known:
            reason = self.batch["malts_unknown"]
        elif not self.sparge_volume:
            reason = "No sparge"
        elif water is None:
            reason = self.missing
        else:
            reason = "The tap water's pH isn't stated" if ph is None else ""
            reason = reason or ("The acid's strength isn't stated" if share is None else "")
        grams = None
        if not reason and wanted is not None:
            assert water is not None
            grams = 0.0
            if ph > wanted:
                grams = physics.water_acid(self.sparge_volume, water, ph, wanted, acid, share) or 0.0
        self.put(
            sparge_unknown=reason, sparge_acid_kind=acid, sparge_acid_strength=share, sparge_acid_mass=grams,
            sparge_acid_volume=None if grams is None or density is None else grams / density,
        )  # fmt: skip
        if wanted is None:
            says = "Not acidified."
        elif not self.known:
            says = reason
        elif reason:
            says = look(f"{reason}.") if self.sparge_volume else "No sparge."
        elif grams:
            says = (
                f"{self.weighed('sparge_acid')} of {acid} acid into it for pH {fixed(wanted, 2)}, stirred in before "
                "the grain meets it."
            )
        else:
            says = "It is no higher than that, or holds hardly any alkalinity: no acid."
        self.put(sparge_says=says)

    def rules(self) -> None:
        batch, read = self.batch, self.given["mash_ph_read"]
        now, low, high = (batch[f"mash_ph_{key}"] for key in ("now", "low", "high"))
        state, figure, span = "unknown", "", ""
        if not batch["grain_in_kg"]:
            state = "not used"
        elif now is not None:
            unsure = read is None and not 5.2 <= low <= high <= 5.6
            state = "look here" if not 5.2 <= now <= 5.6 else "uncertain" if unsure else "fine"
            figure, span = fixed(now, 2), "" if low is None else f"{fixed(low, 2)} to {fixed(high, 2)}"
        estimated = f"pH {figure} is estimated, {span} as the malts' figures part; 5.2 to 5.6 is usual. Measure it."
        batch.rule(
            "mash_ph",
            state,
            not_used="No mash.",
            unknown=f"{self.unknown or batch['mash_acid_unknown']}.",
            uncertain=estimated,
            look_here=estimated if read is None else f"pH {figure} was read; 5.2 to 5.6 is usual. See the sheet Water.",
            fine=f"pH {figure} is estimated, within the usual 5.2 to 5.6. Measure it."
            if read is None
            else f"pH {figure} was read, within the usual 5.2 to 5.6.",
        )
        batch.rule(
            "lime",
            batch.looks(self.lime > 0, self.count > 0),
            not_used="No salts.",
            look_here=f"{fixed(self.lime, 1)} g: it is caustic, and burns skin and eyes. Goggles and gloves, what its "
            "label says, and never with acid.",
            fine="No slaked lime among the salts.",
        )
