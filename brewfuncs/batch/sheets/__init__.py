"""The sheets of the batch workbook, a module a sheet; a long one is a folder of modules, whose `build` makes it.

All are made with one layer: one look, one rhythm, names for everything. A sheet is made from the top down:

    page = book.page("Plan", "Plan")                      # title, batch line, print set-up, frozen title
    left, right = page.columns()                          # two blocks side by side, each with its own row
    left.inputs("mash")                                   # from SECTIONS: label, value, unit, converted, note
    left.section("Kettle")
    left.input("kettle.size")                             # or one by one
    right.section("Water")
    right.result("strike_temp", "Strike water", "=MASH_STRIKE_TEMP(...)", units.Celsius, "mash_temp_unit")
    right.state("kettle_state", "Kettle", '=IF(kettle_full>85%,"Look: may boil over","Fits")')
    page.skip_to(left, right)                             # both blocks go on under the longer one
    page.table("hops", {...}, results=[...])              # a table over the full width, one unit cell a column
    page.notes("Boiling wort scalds ...")                 # quiet text over the full width
    page.charts(Chart(...))                               # one question each, its answer in the cell above

Formulas refer to cells by name. An input x with a unit has three cells: `x`, `x_unit`, and, out of sight on Workings,
the value in the formulas' unit, `x_in_L` (`names.suffix` makes the ending). A result is worked out there as `x_in_L`,
and shown in the unit of the cell `x_unit`, which follows an input's unit, as `x`. What formulas read of a measurement
is `x_used` on Workings: the plan's value while nothing is measured, shown beside the reading in the reading's unit.

A new row: its input, if it is one, is declared in `sections`; one of these calls in the sheet's module shows it; what
it is worked out from goes to Workings by name. Then its lines in tests/batch_model.py, the workbooks that come along
(`python -m brewfuncs.batch.examples workbooks`), and for an input docs/plan-file.md (`python docs/generate.py`).
"""
