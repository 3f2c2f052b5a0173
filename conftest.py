"""The package is imported whole before pytest looks into one of its modules: asked for a single module
(`pytest brewfuncs/formulas/beer.py`), pytest would run it a second time after the import of its package had run it.
"""

import brewfuncs  # noqa: F401
