"""The batch workbook: its plan, its sheets and the generator that makes it.

    what a batch is        plan, demo, thresholds
    how a sheet is made    draft (the workbook), page, block, chart, listing, in formats, looks and wording;
                           names of cells; entry, what a cell takes
    the sheets             sheets/, a module a sheet
    what is done           generate, examples, scale, like and brewhouse (what earlier batches measured), record, told
"""
