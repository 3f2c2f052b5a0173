"""Functions of spreadsheet programs that the engine works out otherwise, as the programs do.

The engine is given these in place of its own. Where what a program does isn't documented, or differs from one to the
next (the midpoints of MROUND, whether 0.7/0.1 is 7), the answer is UNKNOWN: the cell is then left as it is.
"""

from brewfuncs.hosts.standard import (  # noqa: F401
    convert,
    databases,
    dates,
    operators,
    order,
    payments,
    statistics,
    texts,
    whole,
)
from brewfuncs.hosts.standard.declare import BUILTINS

__all__ = ["BUILTINS"]
