"""Where a rule of the sheets changes its mind: each limit once, by name, with where it comes from.

Formulas, sentences and tests take them from here.
"""

from __future__ import annotations

# -- common practice, no source --------------------------------------------------------------------------------------

KETTLE_FULL = 0.85  # share of the kettle that hot wort may fill before foam comes over the rim
GRAVITY_NEAR = 0.0015  # apart from the gravity wanted, and still as wanted: half again what a hydrometer tells
HARDLY_A_WORT = 1.0001  # SG: what no extract and rounding leave of one
BITTERNESS_NEAR = 0.05  # share apart from the bitterness wanted, and still as wanted
EXTRACT_AGREES = 0.03  # share by which extract before and after the boil may differ before a reading is doubted
SHORTEST_BOIL = 15  # min; below it protein hardly coagulates and little bitterness forms
USUAL_SHORT_BOIL = 30  # min; a boil this long is never called longer than needed
LONGER_THAN_NEEDED = 15  # min over what is needed before it is worth saying
MINUTES_NEAR = 3  # min that a boil may be off before it is worth saying
MOST_LONGER = 30  # min that a boil may be lengthened before extract is the better way
FLAVOUR_HOPS = (20, 45)  # min in the boil: little aroma left, and less bitter than at the start
LATE_HOPS = 15  # min in the boil, at most
SLOW_CHILL = 5  # min above HOT_WORT
USUAL_CHILL = 2  # min of boiling that a usual chill is worth to bitterness; Tinseth's and Rager's data hold as much
HOT_WORT = 80  # °C; above it late hops go on turning bitter, and their aroma leaves
USUAL_ALPHA = (0.02, 0.20)  # shares outside it are rare
USUAL_EFFICIENCY = (0.50, 0.95)
USUAL_EVAPORATION = (0.04, 0.20)  # of the kettle, an hour
USUAL_MASH_PH = (5.2, 5.6)  # of a sample cooled to 25 °C
MASH_PH_NEAR = 0.05  # above the mash pH wanted, and near enough: what meters tell apart
MASH_PH_TRUST = 0.1  # either way, of a mash worked out from measured malts and water
METHODS_APART = 1.5  # highest bittering model over the lowest
RISE_HELPS = 2  # K towards the end of fermentation, from which on it helps the yeast to finish
STAND_OVER_BOIL = 0.5  # K that a stand may be stated above the local boil: wort boils a little over water

# -- from papers -----------------------------------------------------------------------------------------------------

DMS_VOLATILITY = (18, 75)  # that papers span: Desobgo 2015; Wilson & Booer 1979 and Henry constants
DMS_HALF_LIFE = (32.5, 40)  # min at 100 °C: pH 5.5, and the longest published (Dickenson 1979; Fix 1999)
EVAPORATION_ANSWERED = 0.4  # an hour: the DMS functions answer no more

# -- before anything is closed: common practice, no source; a doubt asks for one more reading ------------------------

DAYS_STEADY = 2  # over which a gravity has to stay the same
DAYS_STEADY_UNSURE = 7  # the same where the wort wasn't read, or where the beer is lower than expected
FALLEN = 0.0003  # more is a fall: what a degree and a half of the sample's temperature makes
RISEN = 0.001  # no gravity rises: readings that did by more disagree
LOWER_THAN_EXPECTED = 0.002  # so far below, other yeast may be at work, or a reading is off
CO2_TO_COME = 0.3  # volumes that fermentation may still add: within what readings tell
USUAL_VOLUMES = 3  # that bottles and kegs of no stated rating are made for

# -- sanitizer: the label decides ------------------------------------------------------------------------------------

DOSE_NEAR = 0.1  # share of the label's dose by which what was poured may differ (common practice, no source)
ACID_PH = 3  # over which an acid sanitizer may not work (common practice, no source)
ANY_EXCESS = 1.001  # times the most that the label allows: any excess, but for rounding
