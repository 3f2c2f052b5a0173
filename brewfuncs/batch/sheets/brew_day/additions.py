"""The hops in the order of the clock, and what they have given when the day is over."""

from __future__ import annotations

from brewfuncs.batch.page import Page
from brewfuncs.batch.sections import find_section
from brewfuncs.batch.sheets.brew_day.balance import COURSE
from brewfuncs.batch.sheets.recipe import METHODS, after_boil
from brewfuncs.batch.sheets.workings import Workings

__all__ = ["hops"]

_HOPS = find_section("hops").rows


def hops(page: Page, workings: Workings) -> None:
    """The additions in the order of the clock."""
    page.section("Hops, in the order they go in")
    head, top = page.row, page.row + 1
    page.sheet.row_dimensions[head].height = 28
    for letter, title in zip(
        "BCDEFHI",
        ("Hop", "Mass", "", "before the end", "after the start", "", "at"),
        strict=True,
    ):
        if title:
            page.put(f"{letter}{head}", title, "head left" if letter == "B" else "head")
    for n in range(1, _HOPS + 1):
        row, there = top + n - 1, f"next_{n}=0"
        item = f"INDEX({{}},next_{n})"
        stands = f"{item.format('hops_stands')}=1"
        page.put(f"B{row}", f'=IF({there},"",{item.format("hops_label")}&IF({stands}," (stand)",""))', "text")
        page.put(f"C{row}", f'=IF({there},"",UNIT_CONVERT({item.format("brew_g")},"g",hops_mass_unit))', "result",
                 "[<10]0.00;0.0")  # fmt: skip
        page.put(f"D{row}", f'=IF({there},"",hops_mass_unit)', "unit")
        page.put(f"E{row}", f'=IF({there},"",{item.format("day_minutes")})', "result", '0" min"')
        page.put(f"F{row}", f'=IF({there},"",IF({item.format("hops_stands")}=1,"",MAX(0,boil_minutes_now-'
                 f'{item.format("day_minutes")})))', "value", '0" min"')  # fmt: skip
        clock = f"MOD(boil_start+(boil_minutes_now-{item.format('day_minutes')})/1440,1)"
        page.put(f"I{row}", f'=IF({there},"",IF({stands},"after the boil",IF(boil_start="","",{clock})))',
                 "value", "hh:mm")  # fmt: skip
        page.book.define(f"schedule_{n}_mass", page, f"C{row}")
        page.book.define(f"schedule_{n}_minutes", page, f"E{row}")
        page.book.define(f"schedule_{n}_clock", page, f"I{row}")
    page.row = top + _HOPS + 1
    workings.rows(
        "hops",
        "Hops on the day: minutes before the end, the order they go in, and what they really boiled",
        {
            "hop_{n}_day_minutes": (
                "=IF(hop_{n}_stands=1,brew_{n}_minutes,MIN(brew_{n}_minutes,boil_minutes_now))",
                "0",
            ),
            # the longest first, stands after all others, rows that tie in their own order; -999 is no addition. A
            # condition made with & holds 15 digits, and a number that has more would count itself: so it is rounded
            "hop_{n}_order": (
                "=IF(hop_{n}_counts=0,-999,ROUND(1000+IF(hop_{n}_stands=1,hop_{n}_stand_at/1000-1,brew_{n}_minutes)-"
                "{n}/100000,9))",
                "0.0000",
            ),
            "hop_{n}_place": ('=IF(hop_{n}_counts=0,0,COUNTIF(hops_order,">"&hop_{n}_order)+1)', "0"),
            "next_{n}": ("=IF({n}>hops_count,0,MATCH({n},hops_place,0))", "0"),
            "hop_{n}_real_minutes": (
                "=MAX(0,hop_{n}_day_minutes+IF(hop_{n}_stands=1,stood_minutes_used-stand_minutes,boiled_minutes_used-"
                "boil_minutes_now))",
                "0",
            ),
            "hop_{n}_real_gravity": (
                "=IF(hop_{n}_counts=0,1,(WORT_PREBOIL_GRAVITY(postboil_volume_used,postboil_gravity_used,BOIL_OFF("
                "actual_rate,IF(hop_{n}_stands=1,0,hop_{n}_real_minutes)))+postboil_gravity_used)/2)",
                "0.0000",
            ),
            **{
                f"hop_{{n}}_final_{name}": (
                    "=IF(hop_{n}_counts=0,0,"
                    + COURSE.hop_bitterness(
                        "brew_{n}_g",
                        "hop_{n}_real_minutes",
                        "final_wort_volume",
                        "hop_{n}_real_gravity",
                        f'"{method}"',
                        after_boil(method, "real_"),
                    )
                    + ")",
                    "0.0",
                )
                for method, _, name in METHODS
            },
        },
        {
            "hop_{n}_day_minutes": "day_minutes",
            "hop_{n}_order": "hops_order",
            "hop_{n}_place": "hops_place",
            **{f"hop_{{n}}_final_{name}": f"final_{name}" for _, _, name in METHODS},
        },
    )
