"""Where a rule of the sheets changes its mind: each limit once, by name, with where it comes from.

Formulas, sentences and tests take them from here.
"""

from __future__ import annotations

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
ANY_EXCESS = 1.001  # times the most that the label allows: any excess, but for rounding
