"""Every input of the batch workbook, once: its name, what it is, its limits, help, and what stands in it at first.

The sheets put these inputs where a brewer looks for them, a plan file fills them, `brewfuncs record` sets them by name.
An input's cell is named after its section and key (`mash.temp` is `mash_temp`; what is measured goes without the
section: `preboil_gravity`); the cell with its unit is `mash_temp_unit`, the converted value `mash_temp_in_C`. In a
table the rows count: `hop_1_mass`, and the whole column is `hops_mass`. These names are promises.
"""

from __future__ import annotations

from functools import cache
from typing import NamedTuple

from brewfuncs import units
from brewfuncs.batch.inputs import DATE, TEXT, TIME, Input, Section
from brewfuncs.catalogue import Above, AtLeast, Between

__all__ = ["INPUTS", "SECTIONS", "SPARGES", "InputAt", "find_section", "input_cells"]

#: how mash is sparged, with how many batches of MASH_LAUTER_EFFICIENCY that is
SPARGES = {"one batch": 1, "two batches": 2, "three batches": 3, "four batches": 4, "continuous": 12}

SECTIONS: tuple[Section, ...] = (
    Section(
        "batch",
        "Batch",
        (
            Input("brewery", "Brewery", TEXT, "", "The brewery's name."),
            Input("name", "Batch", TEXT, "", "The batch's name; it heads every sheet."),
            Input("date", "Brew day", DATE, None, "The day it is brewed."),
            Input("volume", "Wort after the boil", "WORT_PREBOIL_VOLUME.post_volume", "20 L",
                  "All the wort in the kettle at the end of the boil, as cold wort of 20 °C, trub included.", True),
            Input("gravity", "Gravity wanted", "WORT_PREBOIL_VOLUME.post_gravity", "1.050",
                  "Original gravity wanted: of the wort in the fermenter, topped up.", True),
            Input("bitterness", "Bitterness wanted", "HOP_MASS.bitterness", None,
                  "In mg/L, which is IBU. Blank where none is aimed at; beside each hop stands the mass for it."),
            Input("bittering", "Bitterness by", ("tinseth", "kinetic", "rager smooth", "rager table"), "tinseth",
                  "The bittering model that this brewery goes by. All four are shown side by side."),
        ),
    ),
    Section(
        "kettle",
        "Kettle and fermenter",
        (
            Input("size", "Kettle holds", (units.Litre, Above(0)), "36 L",
                  "Up to the brim. Boiling wort scalds: leave room for the foam to rise."),
            Input("loss", "Left in the kettle", (units.Litre, AtLeast(0)), "1.5 L", "Trub and wort that stay behind."),
            Input("boil_off", "Boils off in an hour", "BOIL_OFF.boil_off_rate", "4 L/h",
                  "Water the open kettle loses in an hour, as litres at 20 °C; the brew day sheet measures it.", True),
            Input("topup", "Topped up with water", (units.Litre, AtLeast(0)), "0 L",
                  "Clean water added after the boil, to the wort in the fermenter."),
            Input("fermenter_loss", "Left in the fermenter", (units.Litre, AtLeast(0)), "1 L",
                  "Yeast and beer that stay behind."),
        ),
    ),
    Section(
        "malts",
        "Malts",
        (
            Input("name", "Malt", TEXT, "", "The malt, sugar or extract, by kind."),
            Input("mass", "Mass", "WORT_MASH_GRAVITY.malt_masses", None, "", True),
            Input("goes", "Goes into", ("mash", "kettle", "fermenter"), None,
                  "Kettle: dissolved before the boil, such as sugar and extract; all its extract counts. Fermenter: "
                  "added after the boil. Blank: the kettle for what is named sugar, honey, syrup or extract, else the "
                  "mash."),
            Input("yield", "Extract", "WORT_MASH_GRAVITY.malt_yields", None,
                  "Extract yield as share of the malt's mass as it is; a laboratory's dry figure times "
                  "(1 - moisture). Blank takes the usual value of its kind, named below the table."),
            Input("color", "Colour", "WORT_COLOR.malt_colors", None,
                  "The malt's colour, as its analysis gives it. Blank is unknown: white sugar has 0."),
            Input("precursor", "DMS precursor", "DMS_LOAD.malt_precursors", None,
                  "As DMS; a figure given as SMM times 0.38. Pilsner malt holds 5 to 15 in older texts, 5 or less "
                  "today; pale ale malt under 2; crystal and roasted malt, kilned hotter still, next to none (all as "
                  "commonly quoted). Blank is unknown; sugar needs none."),
            Input("kind", "Kind for its pH", "MASH_MALT_PH.kind", None,
                  "Where the malt isn't measured. Blank goes by its name, a caramel malt's by its colour too.",
                  optional=True),
            Input("ph", "pH, measured", "MASH_PH.malt_phs", None,
                  "Of a cooled sample: 50 g, crushed, mashed in 200 mL of distilled water. Blank takes its kind's.",
                  optional=True),
            Input("buffering", "Buffering, measured", "MASH_PH.malt_buffers", None,
                  "From a titration of such a mash. Blank takes its kind's.", optional=True),
        ),
        rows=8,
        row_name="malt",
    ),
    Section(
        "mash",
        "Mash",
        (
            Input("efficiency", "Extract reaching the kettle", "WORT_MASH_GRAVITY.efficiency", "75 %",
                  "Share of the malts' extract that reaches the kettle; the brew day sheet measures it."),
            Input("ratio", "Water to grain", "MASH_STRIKE_TEMP.water_ratio", "3 L/kg", ""),
            Input("grain_temp", "Grain temperature", "MASH_STRIKE_TEMP.grain_temp", "18 °C", ""),
            Input("temp", "Mash temperature", "MASH_STRIKE_TEMP.target", "66 °C", ""),
            Input("time", "Mash time", (units.Minute, AtLeast(0)), 60, "Time at that temperature."),
            Input("mashout_temp", "Mash-out temperature", (units.Celsius, Between(0, 100)), "76 °C",
                  "Temperature of the last rest before the boil."),
            Input("mashout_time", "Mash-out time", (units.Minute, AtLeast(0)), 10,
                  "0 where there is no mash-out."),
            Input("absorption", "Held by the grain", "MASH_WATER.absorption", "1 L/kg", ""),
            Input("loss", "Left in the mash tun", "MASH_WATER.left_behind", "0 L", ""),
            Input("sparge", "Sparged in", tuple(SPARGES), None,
                  "How the sparge water goes in. Each batch is stirred in and run off; continuous is many small ones. "
                  "Blank is not known: then one batch and continuous are told."),
        ),
    ),
    Section(
        "water",
        "Water",
        (
            Input("calcium", "Calcium", "WATER_RESIDUAL_ALKALINITY.calcium", None,
                  "Of the tap water, by its report. Blank is unknown, or follows from hardness and magnesium."),
            Input("magnesium", "Magnesium", "WATER_RESIDUAL_ALKALINITY.magnesium", None,
                  "Blank is unknown, or follows from hardness and calcium."),
            Input("hardness", "Hardness, total", (units.Hardness, AtLeast(0)), None,
                  "Where the report has it in place of calcium or of magnesium: the other one is what is left."),
            Input("sodium", "Sodium", (units.MilligramPerLitre, AtLeast(0)), None, "Blank is unknown."),
            Input("chloride", "Chloride", (units.MilligramPerLitre, AtLeast(0)), None, "Blank is unknown."),
            Input("sulfate", "Sulfate", (units.MilligramPerLitre, AtLeast(0)), None,
                  "As SO4; a figure given as sulfate sulphur (SO4-S) times 3. Blank is unknown."),
            Input("alkalinity", "Alkalinity", "WATER_RESIDUAL_ALKALINITY.alkalinity", None,
                  "As CaCO3, or in another unit beside it: hydrogen carbonate (bicarbonate) is mg/L HCO3, acid "
                  "capacity mmol/L HCO3."),
            Input("ph", "pH", "WATER_ACID.ph", None, "Of the tap water; wanted only to acidify the sparge."),
            Input("distilled", "Distilled water in it", (units.Share, Between(0, 1)), "0 %",
                  "Share of the brewing water that is distilled or from reverse osmosis, taken as free of all this."),
            Input("chlorine", "Chlorine in the tap water", "WATER_SULFITE.chlorine", None,
                  "Free chlorine and chloramine together, as Cl2. Blank where there is none."),
            Input("metabisulfite", "taken out with", "WATER_SULFITE.salt", "sodium metabisulfite",
                  "Sulfites make some people ill. Never add it to bleach or to an acid: keep it to tap water."),
            Input("mash_ph", "Mash pH wanted", "MASH_ACID.target", None,
                  "Of a sample cooled to 25 °C. Blank where none is aimed at."),
            Input("mash_acid", "Acid for the mash", "MASH_ACID.acid", "lactic",
                  "Food grade. Acids burn: goggles and gloves, acid into water, and never near chlorine."),
            Input("mash_acid_share", "its strength", "MASH_ACID.share", None,
                  "Acid in the product, by mass (w/w), from its label. Blank is unknown."),
            Input("mash_acid_density", "its density", (units.KilogramPerLitre, Between(0.9, 2)), None,
                  "From its label or data sheet, to measure it by volume; blank where it is weighed."),
            Input("mash_acid_mass", "Acid planned", (units.Gram, AtLeast(0)), None,
                  "What goes into the mash, weighed as sold. Blank is none.", unit="g"),
            Input("sparge_ph", "Sparge water's pH wanted", "WATER_ACID.target", None,
                  "5.5 to 6 is usual (common practice, no source). Blank where it isn't acidified."),
            Input("sparge_acid", "Acid for the sparge", "WATER_ACID.acid", None, "Blank is the mash's."),
            Input("sparge_acid_share", "its strength", "WATER_ACID.share", None,
                  "Acid in the product, by mass (w/w), by its label. Blank is the mash's, where it is the same acid."),
            Input("sparge_acid_density", "its density", (units.KilogramPerLitre, Between(0.9, 2)), None,
                  "Blank is the mash's, where it is the same acid of the same strength."),
        ),
        optional=True,
    ),
    Section(
        "salts",
        "Salts",
        (
            Input("name", "Salt", "WATER_SALT.salt", None,
                  "Food grade. Chalk hardly dissolves. Slaked lime is caustic: gloves and goggles, and mind its label.",
                  True),
            Input("mass", "Mass", "WATER_SALT.mass", None, "In all, where it goes into both.", True),
            Input("into", "Into", ("mash", "sparge", "both"), None,
                  "Both: into all of the brewing water, shared by volume. Blank is both."),
        ),
        rows=8,
        row_name="salt",
        optional=True,
    ),
    Section(
        "boil",
        "Boil",
        (
            Input("time", "Boil as found", "BOIL_OFF.minutes", 60,
                  "Length of the boil in the recipe as it was found. The sheet Shorter boil works out another.", True),
            Input("altitude", "Altitude", "BOIL_TEMP.altitude", "0 m", ""),
            Input("kettle", "Kettle is", ("open", "covered"), "open",
                  "A covered kettle boils nothing off, and keeps its DMS in."),
        ),
    ),
    Section(
        "hops",
        "Hops",
        (
            Input("name", "Hop", TEXT, "", "The hop."),
            Input("mass", "Mass", "HOP_BITTERNESS.mass", None, "", True),
            Input("alpha", "Alpha acid", "HOP_BITTERNESS.alpha", None, "Share of the hops' mass, as on the packet.",
                  True),
            Input("time", "Time", "HOP_BITTERNESS.minutes", None,
                  "Minutes in the boil; for a hop stand, minutes of the stand.", True),
            Input("stand_temp", "Stand at", "HOP_STAND_BITTERNESS.temp", None,
                  "Only for a hop stand below the boil: the temperature it is held at. Blank is an addition to the "
                  "boil."),
        ),
        rows=12,
        row_name="hop",
    ),
    Section(
        "stand",
        "Stand after the boil",
        (
            Input("time", "Stands hot for", (units.Minute, Between(0, 1440)), None,
                  "Between the end of the boil and chilling. Blank is the longest hop stand."),
            Input("temp", "at", "HOP_STAND_BITTERNESS.temp", None,
                  "Blank is the hottest hop stand; without one, the boil."),
            Input("boil_off", "Steams off in an hour", "BOIL_OFF.boil_off_rate", "0 L/h",
                  "While it stands: 0 under a lid, which keeps its DMS in."),
        ),
    ),
    Section(
        "chill",
        "Chill",
        (
            Input("time", "Chilling takes", "DMS_AT_PITCH.cool_minutes", 20,
                  "From the end of the boil to pitching temperature, covered."),
            Input("coolant_temp", "Cooling water", "BOIL_COOLING.coolant", "15 °C", ""),
            Input("cooling", "Cooling constant", "DMS_AT_PITCH.cooling", "0.1 /min",
                  "How fast wort nears the cooling water: an immersion chiller about 0.1 a minute, a covered pot left "
                  "alone 0.01. The brew day sheet measures it."),
        ),
    ),
    Section(
        "yeast",
        "Yeast",
        (
            Input("name", "Yeast", TEXT, "", "The yeast."),
            Input("attenuation", "Attenuation", "BEER_FINAL.attenuation", "75 %",
                  "Apparent attenuation, as the yeast's supplier states it."),
            Input("cells_per_gram", "Cells in dry yeast", "BEER_DRY_YEAST.cells_per_gram", None,
                  "Living cells a gram, as its maker states them. Blank where none is pitched."),
            Input("slurry_density", "Cells in slurry", "BEER_SLURRY_VOLUME.density", None,
                  "Living and dead, as counted; thick slurry has 1 to 2 billion/mL (common practice, no source). Blank "
                  "where none is pitched."),
            Input("slurry_viability", "living of those", "BEER_SLURRY_VOLUME.viability", None,
                  "As counted with a stain. Blank is unknown."),
        ),
    ),
    Section(
        "dms",
        "DMS",
        (
            Input("limit", "DMS wanted at most", "DMS_BOIL_MINUTES.limit", "100 µg/L",
                  "At pitching. 30 to 50 is tasted, over 100 is an off-flavour; fermentation strips much of it."),
            Input("volatility", "How easily DMS leaves", "DMS_AT_PITCH.volatility", 65,
                  "How much richer in DMS the steam is than the wort. Papers span 18 to 75; 65 is a middle for a "
                  "vigorous open boil."),
            Input("precursor_half_life", "Half-life at 100 °C", "DMS_AT_PITCH.half_life_100", 38,
                  "Of the precursor at the boil: 38 min at pH 5.2, 32.5 at pH 5.5."),
        ),
    ),
    Section(
        "shorter",
        "Shorter boil",
        (
            Input("time", "New boiling time", (units.Minute, Between(5, 600)), 30,
                  "Length of the boil to brew instead of the one found."),
            Input("brewed", "Boil to brew", ("as found", "shorter"), "as found",
                  "Which of the two is brewed: plan, brew day and every check follow it. Masses and times of the "
                  "recipe stay as they were found."),
            Input("old_style_precursor", "Old-style pilsner malt", "DMS_LOAD.malt_precursors", "8 mg/kg",
                  "DMS precursor of an old-style pilsner malt, for comparison; older texts give 5 to 15."),
        ),
    ),
    Section(
        "instruments",
        "Instruments",
        (
            Input("hydrometer_temp", "Hydrometer made for", "WORT_HYDROMETER.calibration", "20 °C",
                  "The temperature written on the hydrometer."),
            Input("refractometer_factor", "Refractometer factor", "WORT_REFRACTOMETER.factor", 1.04,
                  "The instrument's own wort correction factor, 1.00 to 1.06: read one wort with a hydrometer too."),
        ),
    ),
    Section(
        "later",
        "Moved later still",
        (
            Input("time", "Later: at", (units.Minute, Between(1, 240)), None,
                  "To add this hop later still, write the minutes it shall boil. Blank is the new time beside it."),
        ),
        rows=12,
        row_name="later",
        in_file=False,
    ),
    Section(
        "day",
        "Brew day",
        (
            Input("preboil_volume", "Volume before the boil", "WORT_VOLUME_AT.volume", None,
                  "As read in the kettle. Hot wort and steam scald: read it from a safe distance."),
            Input("preboil_volume_temp", "at a temperature of", "WORT_VOLUME_AT.from_temp", None,
                  "Of the wort when its volume was read; without it the reading isn't used."),
            Input("preboil_gravity", "Hydrometer before the boil", "WORT_HYDROMETER.reading", None,
                  "Hydrometer reading before the boil."),
            Input("preboil_gravity_temp", "at a temperature of", "WORT_HYDROMETER.temp", None,
                  "Of the sample in the hydrometer jar; without it the reading isn't used. Cool it under 60 °C."),
            Input("preboil_brix", "or refractometer", "WORT_REFRACTOMETER.brix", None,
                  "Refractometer reading before the boil; used where there is no hydrometer reading."),
            Input("midboil_minutes", "Read after boiling for", "BOIL_OFF.minutes", None,
                  "Minutes the wort had boiled when the readings below were taken."),
            Input("midboil_volume", "Volume then", "WORT_VOLUME_AT.volume", None,
                  "As read in the kettle. Boiling wort and steam scald: turn the heat down and keep a distance."),
            Input("midboil_volume_temp", "at a temperature of", "WORT_VOLUME_AT.from_temp", None,
                  "Of the wort when its volume was read, about 100 °C at the boil; without it the reading isn't used."),
            Input("midboil_gravity", "Hydrometer then", "WORT_HYDROMETER.reading", None,
                  "Hydrometer reading of a cooled sample."),
            Input("midboil_gravity_temp", "at a temperature of", "WORT_HYDROMETER.temp", None,
                  "Of the sample in the hydrometer jar; without it the reading isn't used. Cool it under 60 °C."),
            Input("midboil_brix", "or refractometer", "WORT_REFRACTOMETER.brix", None,
                  "Refractometer reading; used where there is no hydrometer reading."),
            Input("boil_for", "Boil it for", (units.Minute, Between(5, 600)), None,
                  "The length you decide on after the readings; the hops go in by it. Blank is the plan's."),
            Input("boil_start", "Boil began at", TIME, None,
                  "Time of day at which it boiled, as 10:30: the hops' times of day follow."),
            Input("boiled_minutes", "Boiled for", "BOIL_OFF.minutes", None, "How long it really boiled."),
            Input("postboil_volume", "Volume after the boil", "WORT_VOLUME_AT.volume", None,
                  "As read in the kettle at the end of the boil, before chilling or after it."),
            Input("postboil_volume_temp", "at a temperature of", "WORT_VOLUME_AT.from_temp", None,
                  "Of the wort when its volume was read; without it the reading isn't used."),
            Input("postboil_gravity", "Hydrometer after the boil", "WORT_HYDROMETER.reading", None,
                  "Hydrometer reading after the boil."),
            Input("postboil_gravity_temp", "at a temperature of", "WORT_HYDROMETER.temp", None,
                  "Of the sample in the hydrometer jar; without it the reading isn't used. Cool it under 60 °C."),
            Input("postboil_brix", "or refractometer", "WORT_REFRACTOMETER.brix", None,
                  "Refractometer reading after the boil; used where there is no hydrometer reading."),
            Input("water_added", "Water added", (units.Litre, AtLeast(0)), None,
                  "Water put in after these readings."),
            Input("extract_added", "Dry extract added", (units.Kilogram, AtLeast(0)), None,
                  "Dry extract or sugar put in after these readings."),
            Input("stood_minutes", "Stood hot for", (units.Minute, Between(0, 1440)), None,
                  "Between the end of the boil and chilling."),
            Input("stood_temp", "at", "HOP_STAND_BITTERNESS.temp", None, "Of the wort while it stood."),
            Input("chill_start_temp", "Wort when chilling began", "BOIL_COOLING.start_temp", None,
                  "Temperature of the wort at the start of chilling."),
            Input("chill_end_temp", "Wort when it ended", "BOIL_COOLING.end_temp", None,
                  "Temperature of the wort at the end of chilling."),
            Input("chilled_minutes", "Chilled for", "BOIL_COOLING.minutes", None, "Time between the two."),
            Input("fermenter_volume", "Wort in the fermenter", "WORT_EXTRACT.volume", None,
                  "Cold wort in the fermenter, before the yeast."),
        ),
        prefix=False,
        in_file=False,
    ),
    Section(
        "mashed",
        "Mashed",
        (
            Input("mash_ph_read", "Mash pH, read", (units.Ph, Between(3, 8)), None,
                  "Of a sample cooled to 25 °C, ten minutes after mashing in, with the acid planned in it. A hot "
                  "sample reads some 0.3 lower."),
        ),
        prefix=False,
        in_file=False,
        optional=True,
    ),
    Section(
        "fermentation",
        "Fermentation",
        (
            Input("temp", "Ferment at", "BEER_RAMP_TEMP.start_temp", "19 °C", ""),
            Input("ramp_day", "Warm it up from day", "BEER_RAMP_TEMP.ramp_day", "4 d",
                  "Counted from pitching: towards the end, while the yeast still works."),
            Input("end_temp", "to", "BEER_RAMP_TEMP.end_temp", "22 °C", ""),
            Input("per_day", "each day by", "BEER_RAMP_TEMP.per_day", "1 K", ""),
            Input("pitch_rate", "Pitching rate", "BEER_PITCH.rate", 0.75, ""),
        ),
    ),
    Section(
        "package",
        "Package",
        (
            Input("kind", "Beer goes into", ("bottles", "keg"), "bottles", "Bottles are primed with sugar."),
            Input("target", "Carbonation wanted", "BEER_CO2_PRESSURE.volumes", "2.4 vol",
                  "Over 3 volumes needs bottles made for it."),
            Input("temp", "Keg is kept at", "BEER_CO2_PRESSURE.temp", "5 °C",
                  "The temperature at which its pressure is set."),
            Input("sugar", "Primed with", "BEER_PRIMING.sugar", "sucrose", "Table sugar is sucrose."),
            Input("bottle", "A bottle holds", (units.Millilitre, Above(0)), None,
                  "For the sugar in one bottle; leave its neck free."),
            Input("warmest", "Warmest it will be", "BEER_CO2_PRESSURE.temp", "30 °C",
                  "The hottest day where it is kept, carried or given away: a room in summer 30 °C, a car far more. "
                  "Bottles are as warm as the beer was, at least, while the sugar ferments."),
            Input("rating", "It is made for", (units.Bar, Above(0, 40)), None,
                  "Gauge pressure that the bottles or the keg are rated for, from their maker. Blank is not known: the "
                  "sheet then says what they have to stand."),
        ),
    ),
    Section(
        "fermented",
        "Fermented",
        (
            Input("fermenter_gravity", "Gravity at pitching", "BEER_ABV.original", None,
                  "Gravity before the yeast, at 20 °C, where it was read in the fermenter; blank is the gravity after "
                  "the boil. A reading on day 0 doesn't stand in for it."),
            Input("fast_ferment_gravity", "Fast ferment test", "BEER_ABV.final", None,
                  "Final gravity of a warm sample with plenty of yeast, where one was made; it takes the place of the "
                  "yeast's attenuation."),
            Input("warmest_temp", "Warmest since it ended", "BEER_RESIDUAL_CO2.temp", None,
                  "The warmest the beer has been since fermentation ended; blank is the warmest it was set to."),
            Input("package_volume", "Beer to package", "BEER_PRIMING.volume", None,
                  "As measured; blank is what the plan leaves."),
        ),
        prefix=False,
        in_file=False,
    ),
    Section(
        "readings",
        "Readings",
        (
            Input("note", "Note", TEXT, "", "What you saw, smelled, did."),
            Input("day", "Day", "BEER_RAMP_TEMP.day", None,
                  "Days since pitching. Write over these; rows are read by their day, in rising order."),
            Input("gravity", "Hydrometer", "WORT_HYDROMETER.reading", None, "Hydrometer reading of the degassed beer."),
            Input("gravity_temp", "Sample at", "WORT_HYDROMETER.temp", None, "Of that sample; blank is 20 °C."),
            Input("brix", "or Brix read", "BEER_REFRACTOMETER.current_brix", None,
                  "Used where there is no hydrometer reading. Alcohol bends it: within 0.002 at best."),
        ),
        rows=14,
        row_name="reading",
        in_file=False,
        start=tuple({"day": f"{day} d"} for day in (*range(8), 9, 11, 14, 17, 21, 28)),
    ),
    Section(
        "cleaning",
        "Cleaning",
        (
            Input("acid_name", "Name", TEXT, "",
                  "The acid sanitizer in use; leave the rest blank where there is none."),
            Input("acid_label_dose", "Dose on its label", (units.Millilitre, Above(0)), None,
                  "As the label has it: 1 fl oz in 4 gal is 1 fl oz here, and 4 gal below."),
            Input("acid_label_water", "in water", (units.Litre, Above(0)), None,
                  "The water that the label names with its dose; 1 L for a dose in mL/L."),
            Input("acid_label_most", "Most without a rinse", (units.Millilitre, Above(0)), None,
                  "In the same water, from the label; blank is the dose."),
            Input("acid_volume", "Water here", "SANI_DOSE.volume", "20 L", "How much is mixed."),
            Input("acid_poured", "Poured in", (units.Millilitre, AtLeast(0)), None, "What you measured out."),
            Input("acid_share", "Phosphoric acid in it", "SANI_STRENGTH.share", None, ""),
            Input("acid_density", "Density", "SANI_STRENGTH.density", None, ""),
            Input("acid_solids", "Can't evaporate", (units.Share, Above(0, 1)), None,
                  "Share of the concentrate, by volume, that stays when it dries: acid, surfactant. Blank is the "
                  "acid's share."),
            Input("alkalinity", "Alkalinity of the water", "SANI_PH.alkalinity", "50 mg/L", ""),
            Input("chlorine_name", "Name", TEXT, "",
                  "The chlorine sanitizer in use; leave the rest blank where there is none. Never mix it with acid."),
            Input("chlorine_label_dose", "Dose on its label", (units.Millilitre, Above(0)), None,
                  "As the label has it: 20 mL in 10 L is 20 mL here, and 10 L below."),
            Input("chlorine_label_water", "in water", (units.Litre, Above(0)), None,
                  "The water that the label names with its dose; 1 L for a dose in mL/L."),
            Input("chlorine_label_most", "Most on its label", (units.Millilitre, Above(0)), None,
                  "The highest dose the label allows for this use, in the same water; blank is the dose."),
            Input("chlorine_volume", "Water here", "SANI_CHLORINE.volume", "10 L", "How much is mixed."),
            Input("chlorine_poured", "Poured in", "SANI_CHLORINE.dose", None, "What you measured out."),
            Input("chlorine_share", "Hypochlorite in it", "SANI_CHLORINE.share", None, ""),
            Input("chlorine_density", "Density", "SANI_CHLORINE.density", "1.08 kg/L", ""),
            Input("film", "Film left on the wall", "SANI_DRY_MINUTES.film", "50 µm",
                  "A well drained wall keeps some 20 to 100 µm (common practice, no source)."),
            Input("area", "Wall", "SANI_RESIDUE.area", "0.5 m²", "Inner surface of the vessel."),
            Input("air_temp", "Air", "SANI_DRY_MINUTES.temp", "20 °C", ""),
            Input("humidity", "Humidity", "SANI_DRY_MINUTES.humidity", "50 %", ""),
            Input("air_moves", "Heat from moving air", "SANI_DRY_MINUTES.heat_transfer", 8, ""),
        ),
    ),
    Section(
        "parts",
        "Parts",
        (
            Input("name", "Part", TEXT, "", "What it is: the lid, the tap, a hose."),
            Input("plastic", "made of", "SANI_PLASTIC.plastic", None, "As its maker states it. POM is acetal."),
            Input("chemistry", "meets", "SANI_PLASTIC.chemistry", None, "What it meets."),
            Input("state", "and is", "SANI_PLASTIC.state", None,
                  "contact: wet for the label's time; soaked: for hours; dried: left to dry on."),
        ),
        rows=8,
        row_name="part",
    ),
)  # fmt: skip


_BY_KEY = {section.key: section for section in SECTIONS}


def find_section(key: str) -> Section:
    return _BY_KEY[key]


class InputAt(NamedTuple):
    """An input and the section it stands in."""

    section: Section
    item: Input


#: every input by its key in full, "mash.temp"
INPUTS: dict[str, InputAt] = {
    f"{section.key}.{item.key}": InputAt(section, item) for section in SECTIONS for item in section.inputs
}


@cache
def input_cells(with_optional: bool = True) -> dict[str, tuple[Input, str]]:
    """Every input by the name of its cell, with the name of the cell that states its unit; all, or those that every
    workbook has."""
    return {
        section.name(item.key, row): (item, f"{section.name(item.key)}_unit")
        for section in SECTIONS
        for item in section.inputs
        if with_optional or not (section.optional or item.optional)
        for row in section.numbers
    }
