"""Days counted the ways of trade, weeks and working days; serial numbers of days from 1900."""

from __future__ import annotations

import calendar
import datetime
from typing import Any

from brewfuncs.hosts.standard.declare import (
    BUILTINS,
    NUMBER,
    UNKNOWN,
    VALUE,
    Refusal,
    elements,
    entire,
    number,
    single,
    sound,
    whole,
)

_ZERO = datetime.date(1899, 12, 30)
_SATURDAY = 5


def _day(value: Any) -> datetime.date:
    serial = whole(value)
    if serial < 0 or serial > 2_958_465:
        raise Refusal(NUMBER)
    if serial < 61:  # before March 1900, where Excel knows a day that never was
        raise Refusal(UNKNOWN)
    return _ZERO + datetime.timedelta(serial)


def _serial(day: datetime.date) -> float:
    return float((day - _ZERO).days)


def _ends_month(day: datetime.date) -> bool:
    return day.day == calendar.monthrange(day.year, day.month)[1]


@single("DATEDIF")
def _datedif(start: Any, end: Any, unit: Any) -> int:
    first, last = _day(start), _day(end)
    if first > last:
        raise Refusal(NUMBER)
    kind = unit.upper() if isinstance(unit, str) else ""
    months = 12 * (last.year - first.year) + last.month - first.month - (last.day < first.day)
    known = {"D": (last - first).days, "M": months, "Y": months // 12, "YM": months % 12}
    if kind not in known:  # of MD Microsoft says that it goes wrong
        raise Refusal(UNKNOWN)
    return known[kind]


@single("DAYS360")
def _days360(start: Any, end: Any, european: Any = False) -> int:
    first, last = _day(start), _day(end)
    one, other = first.day, last.day
    if number(european):
        one, other = min(one, 30), min(other, 30)
    else:
        if _ends_month(first) and first.month == 2 and (_ends_month(last) and last.month == 2):
            raise Refusal(UNKNOWN)
        if _ends_month(first):
            one = 30
        if other == 31:
            if one < 30:
                other = 1
                month = last.month % 12 + 1
                last = datetime.date(last.year + (month == 1), month, 1)
            else:
                other = 30
    return 360 * (last.year - first.year) + 30 * (last.month - first.month) + other - one


@single("YEARFRAC")
def _yearfrac(start: Any, end: Any, basis: Any = 0.0) -> float:
    first, last = _day(start), _day(end)
    kind = whole(basis)
    if not 0 <= kind <= 4:
        raise Refusal(NUMBER)
    days = (last - first).days
    if kind in (2, 3):
        return abs(days) / (360 if kind == 2 else 365)
    if days < 0:
        raise Refusal(UNKNOWN)
    if kind == 1:
        return _of_actual_years(first, last)
    one, other = first.day, last.day
    if kind == 4:
        one, other = min(one, 30), min(other, 30)
    else:
        if any(day.month == 2 and _ends_month(day) for day in (first, last)):
            raise Refusal(UNKNOWN)
        if other == 31 and one >= 30:
            other = 30
        one = min(one, 30)
    return (360 * (last.year - first.year) + 30 * (last.month - first.month) + other - one) / 360


def _of_actual_years(first: datetime.date, last: datetime.date) -> float:
    days = (last - first).days
    if ((last.month, last.day) <= (first.month, first.day) and last.year == first.year + 1) or last.year == first.year:
        leap = any(
            calendar.isleap(year) and first <= datetime.date(year, 2, 29) <= last for year in (first.year, last.year)
        ) or (first.year == last.year and calendar.isleap(first.year))
        return days / (366 if leap else 365)
    years = range(first.year, last.year + 1)
    return days / (sum(366 if calendar.isleap(year) else 365 for year in years) / len(years))


@single("ISOWEEKNUM")
def _iso_week(value: Any) -> int:
    return _day(value).isocalendar()[1]


@single("WEEKNUM")
def _week(value: Any, kind: Any = 1.0) -> int:
    day, how = _day(value), whole(kind)
    if how == 21:
        return day.isocalendar()[1]
    firsts = {1: 6, 2: 0, **{11 + weekday: weekday for weekday in range(7)}}
    if how not in firsts:
        raise Refusal(NUMBER)
    january = datetime.date(day.year, 1, 1)
    return ((day - january).days + (january.weekday() - firsts[how]) % 7) // 7 + 1


def _holidays(value: Any) -> set[datetime.date]:
    return {_day(cell) for cell in elements([value]) if cell is not None}


@entire("NETWORKDAYS")
def _networkdays(start: Any, end: Any, holidays: Any = None) -> int:
    first, last = _day(start), _day(end)
    free = _holidays(holidays)
    sign = 1 if first <= last else -1
    first, last = min(first, last), max(first, last)
    weeks, rest = divmod((last - first).days + 1, 7)
    working = 5 * weeks + sum((first + datetime.timedelta(day)).weekday() < _SATURDAY for day in range(rest))
    return sign * (working - sum(first <= day <= last and day.weekday() < _SATURDAY for day in free))


@entire("WORKDAY")
def _workday(start: Any, days: Any, holidays: Any = None) -> float:
    day, left = _day(start), whole(days)
    if abs(left) > 100_000:
        raise Refusal(UNKNOWN)
    free = _holidays(holidays)
    step = datetime.timedelta(1 if left > 0 else -1)
    while left:
        day += step
        if day.weekday() < _SATURDAY and day not in free:
            left -= 1 if left > 0 else -1
    if _serial(day) < 61:
        raise Refusal(UNKNOWN)
    return _serial(day)


@single("TIMEVALUE")
def _timevalue(text: Any) -> float:
    if not isinstance(sound(text), str):
        raise Refusal(VALUE)
    hours, _, rest = text.strip().partition(":")
    minutes, _, seconds = rest.partition(":")
    parts = (hours, minutes, seconds or "0")
    if not all(part.isdigit() and len(part) <= 2 for part in parts) or int(parts[1]) > 59 or int(parts[2]) > 59:
        raise Refusal(UNKNOWN)
    if int(hours) > 23:
        raise Refusal(UNKNOWN)
    return (int(hours) * 3600 + int(parts[1]) * 60 + int(parts[2])) / 86400


#: rest on the day from which days are counted, so that in workbooks that count from 1904 they don't know
DATED = frozenset(name for name, function in BUILTINS.items() if function.__module__ == __name__) - {"TIMEVALUE"}
