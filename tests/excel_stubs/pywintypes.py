"""Stands in for pywin32's pywintypes; see README.md here."""

import datetime


class com_error(Exception):
    def __init__(self, hresult, strerror=None, excepinfo=None, argerror=None):
        super().__init__(hresult, strerror, excepinfo, argerror)
        self.hresult, self.strerror, self.excepinfo, self.argerror = hresult, strerror, excepinfo, argerror


class error(Exception):
    """An error of the Windows API."""


class TimeType(datetime.datetime):
    """pywin32's times are datetimes."""
