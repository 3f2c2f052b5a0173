"""Stands in for pywin32's pythoncom; see README.md here."""

from pywintypes import com_error

ole_error = com_error
IID_IDispatch = "{00020400-0000-0000-C000-000000000046}"


class PyIDispatch:
    """The type of a COM object that came as an argument. No test makes one: our VBA passes values only."""


TypeIIDs = {IID_IDispatch: PyIDispatch}


def CoInitialize() -> None:
    """What each thread of xlwings' executor calls first."""
