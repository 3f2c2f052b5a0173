"""Colours, each with one meaning, and the one family of type."""

INK, QUIET, RULE = "1F2933", "6B7280", "D6D3CC"  # text, quiet text, rules
PALE, BAND = "FBF6E9", "E8EFEC"  # an input, a section
ACCENT, SECOND = "2F6B5E", "B45309"  # results and a first series, a second series
LOOK = "FDECD8"  # a state to look at; the word stands beside it
FONT = "Calibri"
