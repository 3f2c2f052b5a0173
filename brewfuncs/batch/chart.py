"""Charts: one question each, drawn alike. Everything is set on every axis and series, since programs differ in what
they take for granted."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from openpyxl.chart import Reference, ScatterChart, Series
from openpyxl.chart.layout import Layout, ManualLayout
from openpyxl.chart.marker import Marker
from openpyxl.chart.shapes import GraphicalProperties
from openpyxl.chart.text import RichText
from openpyxl.chart.title import Title
from openpyxl.drawing.line import LineProperties
from openpyxl.drawing.text import CharacterProperties, Font, Paragraph, ParagraphProperties
from openpyxl.worksheet.worksheet import Worksheet

from brewfuncs.batch.looks import ACCENT, FONT, INK, QUIET, RULE, SECOND

__all__ = ["CHART_ROWS", "Chart", "Line", "draw"]

CHART_ROWS = 12
_WIDTH, _HEIGHT = 11.9, 6.3  # cm: a block wide, CHART_ROWS high
_EMU = 12700  # of a point
_LOOKS = {
    "first": {"color": ACCENT, "width": 2.25},
    "second": {"color": SECOND, "width": 2.25},
    "third": {"color": QUIET, "width": 1.5},
    "limit": {"color": QUIET, "width": 1.0, "dash": "dash"},
    "marks": {"color": INK, "width": 0.0},
}


@dataclass(frozen=True)
class Line:
    """One series: its name, where its values stand (column number, first and last row), how it is drawn."""

    name: str
    sheet: Worksheet
    x: tuple[int, int, int]
    y: tuple[int, int, int]
    look: str = "first"


@dataclass(frozen=True)
class Chart:
    """A question, its answer as a formula, the lines that show it; `right` are those against an axis of their own."""

    question: str
    answer: str
    x_title: str
    y_title: str
    lines: Sequence[Line]
    y_format: str = "0"
    right: Sequence[Line] = field(default=())
    right_title: str = ""
    right_format: str = "0"
    from_zero: bool = True
    x_format: str = "0"
    x_from: float | None = 0  # where the horizontal axis starts; None: near the values
    left: float = 0.11  # share of the width that the left axis takes: more for longer numbers


def _text(size: int, color: str, bold: bool = False) -> CharacterProperties:
    face = Font(typeface=FONT)
    return CharacterProperties(sz=size * 100, b=bold, solidFill=color, latin=face, ea=face, cs=face)


def _rich(size: int, color: str) -> RichText:
    return RichText(p=[Paragraph(pPr=ParagraphProperties(defRPr=_text(size, color)), endParaRPr=_text(size, color))])


def _title(words: str, size: int, color: str, bold: bool = False) -> Title:
    from openpyxl.chart.text import Text
    from openpyxl.drawing.text import RegularTextRun

    look = _text(size, color, bold)
    run = RegularTextRun(rPr=look, t=words)
    paragraph = Paragraph(pPr=ParagraphProperties(defRPr=look), r=[run])
    return Title(tx=Text(rich=RichText(p=[paragraph])), overlay=False)


def _series(line: Line) -> Series:
    def values(at: tuple[int, int, int]) -> Reference:
        return Reference(line.sheet, min_col=at[0], max_col=at[0], min_row=at[1], max_row=at[2])

    series = Series(values(line.y), values(line.x), title=line.name)
    look = _LOOKS[line.look]
    series.smooth = False
    if line.look == "marks":
        series.marker = Marker(symbol="circle", size=8)
        series.marker.graphicalProperties = GraphicalProperties(solidFill=str(look["color"]))
        series.marker.graphicalProperties.line = LineProperties(solidFill="FFFFFF", w=_EMU)
        series.graphicalProperties = GraphicalProperties(ln=LineProperties(noFill=True))
    else:
        series.marker = Marker(symbol="none")
        stroke = LineProperties(solidFill=str(look["color"]), w=int(float(look["width"]) * _EMU))  # type: ignore[arg-type]
        if "dash" in look:
            stroke.prstDash = str(look["dash"])
        series.graphicalProperties = GraphicalProperties(ln=stroke)
    return series


def _scatter(lines: Sequence[Line]) -> ScatterChart:
    chart = ScatterChart()
    chart.style = 2
    chart.scatterStyle = "lineMarker"
    chart.varyColors = False
    chart.x_axis.axPos = "b"
    for line in lines:
        chart.series.append(_series(line))
    for axis in (chart.x_axis, chart.y_axis):
        axis.delete = False
        axis.majorTickMark, axis.minorTickMark, axis.tickLblPos = "out", "none", "low"
        axis.txPr = _rich(9, QUIET)
        axis.graphicalProperties = GraphicalProperties(ln=LineProperties(solidFill=RULE, w=_EMU))
        axis.majorGridlines = None
    return chart


def draw(chart: Chart) -> ScatterChart:
    """The chart as openpyxl writes it."""
    from openpyxl.chart.axis import ChartLines

    made = _scatter(chart.lines)
    made.title = _title(chart.question, 11, INK, bold=True)
    made.width, made.height = _WIDTH, _HEIGHT
    made.visible_cells_only = False
    made.legend.position = "b"
    made.legend.overlay = False
    made.legend.txPr = _rich(9, INK)
    made.x_axis.title = _title(chart.x_title, 9, QUIET)
    made.y_axis.title = _title(chart.y_title, 9, QUIET)
    made.x_axis.number_format, made.y_axis.number_format = chart.x_format, chart.y_format
    made.x_axis.scaling.min = chart.x_from
    if chart.from_zero:
        made.y_axis.scaling.min = 0
    made.y_axis.majorGridlines = ChartLines(spPr=GraphicalProperties(ln=LineProperties(solidFill=RULE, w=_EMU // 2)))
    made.graphical_properties = GraphicalProperties(solidFill="FFFFFF", ln=LineProperties(noFill=True))
    # room for the lines: programs left to themselves give half the height to titles and legend
    right = 0.17 if chart.right else 0.03
    made.layout = Layout(ManualLayout("inner", "edge", "edge", x=chart.left, y=0.14, w=1 - chart.left - right, h=0.52))
    if chart.right:
        second = _scatter(chart.right)
        second.y_axis.axId, second.x_axis.axId = 40, 30
        second.y_axis.crossAx, second.x_axis.crossAx = 30, 40
        second.y_axis.axPos = "r"
        second.x_axis.delete = True
        second.y_axis.title = _title(chart.right_title, 9, QUIET)
        second.y_axis.number_format = chart.right_format
        second.y_axis.crosses = "max"
        second.y_axis.tickLblPos = "high"
        made += second
    return made
