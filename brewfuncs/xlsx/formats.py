"""What cell formats show numbers as, as far as a value's meaning hangs on it."""

from __future__ import annotations

import re
from xml.etree import ElementTree

from brewfuncs.xlsx.xml import find_all, integer

#: the number formats that files refer to by number alone, as far as a value's meaning hangs on them
_BUILT_IN = {
    1: "0",
    2: "0.00",
    9: "0%",
    10: "0.00%",
    **dict.fromkeys((14, 15, 16, 17), "d-m-y"),
    **dict.fromkeys((18, 19, 20, 21, 45, 46, 47), "h:mm"),
    22: "d-m-y h:mm",
    49: "@",
}


class Formats:
    """The number formats of a workbook's cell formats, by the index that cells give."""

    def __init__(self, styles: ElementTree.Element | None) -> None:
        """From the root of the part with the styles, where there is one."""
        self._codes: list[str] = []
        if styles is None:
            return
        codes = dict(_BUILT_IN)
        for element in find_all(styles, "numFmt"):
            code = re.sub(r'"[^"]*"|\[[^\]]*\]|\\.', "", element.get("formatCode", "").lower())
            codes[integer(element.get("numFmtId"), -1)] = code
        formats = next(find_all(styles, "cellXfs"), None)
        if formats is not None:
            self._codes = [codes.get(integer(one.get("numFmtId"), 0), "") for one in formats]

    def code(self, style: int) -> str:
        """The number format code, without its literal text; the built-in ones that matter here spelled out."""
        return self._codes[style] if 0 <= style < len(self._codes) else ""

    def shows_dates(self, style: int) -> bool:
        """Whether a cell format shows numbers as dates."""
        return bool(re.search(r"[dy]", self.code(style)))

    def shows_times(self, style: int) -> bool:
        """Whether a cell format shows numbers as times of day."""
        return "h" in self.code(style)

    def shows_percent(self, style: int) -> bool:
        """Whether a cell format shows 0.055 as 5.5 %."""
        return "%" in self.code(style)

    def shows_text(self, style: int) -> bool:
        """Whether a cell format says that whatever is typed is text."""
        return self.code(style) == "@"
