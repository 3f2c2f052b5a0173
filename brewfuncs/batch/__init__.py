"""The batch workbook: its plan, its sheets and the generator that makes it.

Where to look:
    what a batch is        inputs (what one is), sections (all of them), plan (what stands in them), demo, thresholds
    how a sheet is made    draft (the workbook), page, block, listing, chart; formats, looks, wording, names of cells;
                           entry, what a cell takes
    the sheets             sheets/, a module a sheet
    what is done           generate, examples, scale, like and brewhouse (what earlier batches measured), record, told
"""
