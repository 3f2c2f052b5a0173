"""Worth a look: what on this plan may be a slip, by rules, each with a state in words, the reason, and its source.

Rules are judged on Workings and shown in the order of their states, so that what asks for a look comes first. A rule
that reads a value in error says so, and the line on top counts it.
"""

from __future__ import annotations

from collections.abc import Sequence

from brewfuncs.batch.draft import Draft
from brewfuncs.batch.listing import Listing
from brewfuncs.batch.sheets.workings import Workings
from brewfuncs.batch.sheets.worth_a_look.figures import work_out
from brewfuncs.batch.sheets.worth_a_look.rules import RULES, WATER_RULES, Rule
from brewfuncs.batch.wording import cell, pick, say

__all__ = ["build"]

_WIDTHS = {"B": 24.0, "C": 11.0, "D": 72.0, "E": 52.0}
#: states in the order they are shown, and the colour of "look here" only for the first
_STATES = ("look here", "in error", "uncertain", "unknown", "fine", "not used")


def build(book: Draft, workings: Workings) -> None:
    sheet = Listing(book, "Worth a look", "What on this plan may be a slip; a rule of thumb is no verdict", _WIDTHS)
    page = sheet.page
    page.sheet.page_setup.orientation = "landscape"
    page.sheet.page_setup.fitToHeight = 0
    rules = RULES + (WATER_RULES if book.has_water else ())
    _judged(workings, rules)
    page.answer(
        "="
        + pick(
            ("look_count+uncertain_count+unknown_count+failing_count=0", say("Nothing here asks for a look.")),
            otherwise=say(
                cell("look_count"), f" of these {len(rules)} rules ",
                cell('IF(look_count=1,"asks","ask")'), " for a look",
                cell("IF(uncertain_count>0," + say(", ", cell("uncertain_count"), " uncertain") + ',"")'),
                cell("IF(unknown_count>0," + say(", ", cell("unknown_count"), " unknown") + ',"")'),
                cell("IF(failing_count>0," + say("; ", cell("failing_count"), " can't be judged, since a value they "
                     "read is in error") + ',"")'),
                ".",
            ),
        )
    )  # fmt: skip
    page.row += 1
    sheet.head(("Rule", "State", "Why, on this plan", "Source"), indented="E")
    top = page.row
    longest_source = max((rule.source for rule in rules), key=len)
    longest = "word " * 36  # three lines: rules move between the rows, so all have room for the longest
    for n in range(1, len(rules) + 1):
        row = sheet.row({"D": longest, "E": longest_source}, bold="E")
        at = f"MATCH({n},rules_place,0)"
        for letter, column, look in (("B", "title", "listed"), ("C", "state", "listed name"),
                                     ("D", "reason", "listed"), ("E", "source", "listed quiet")):  # fmt: skip
            page.put(f"{letter}{row}", f"=INDEX(rules_{column},{at})", look)
    page.look_here(f"C{top}:C{page.row - 1}")
    work_out(workings)


def _judged(workings: Workings, rules: Sequence[Rule]) -> None:
    """The rules on Workings: title, state, reason, source; and the place of each in the order of states."""
    start = workings.next_row
    lines = []
    for n, rule in enumerate(rules):
        state = f"C{start + n}"
        judged = f'IF(ISERROR({state}),"in error",{state})'
        order = pick(*((f'D{start + n}="{state}"', str(i)) for i, state in enumerate(_STATES, 1)), otherwise="9")
        lines.append(
            [
                (rule.title, "General"),
                (rule.state, "General"),
                (f"={judged}", "General"),
                (rule.reason, "General"),
                (rule.source, "General"),
                (f"=ROUND({order}+{n}/1000,3)", "0.000"),
                (f'=COUNTIF(rules_order,"<"&G{start + n})+1', "0"),
            ]
        )
    heads = ("rule", "judged", "state", "reason", "source", "order", "place")
    top = workings.columns("Worth a look: the rules", heads, lines)
    bottom = top + len(rules) - 1
    for letter, column in zip("BDEFGH", ("title", "state", "reason", "source", "order", "place"), strict=True):
        workings.book.define(f"rules_{column}", workings.page, f"{letter}{top}:{letter}{bottom}")
    for n, rule in enumerate(rules):
        workings.book.define(f"look_{rule.key}", workings.page, f"C{top + n}")
        workings.book.define(f"why_{rule.key}", workings.page, f"E{top + n}")
