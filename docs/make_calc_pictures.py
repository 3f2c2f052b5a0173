"""Takes the pictures of docs/calc.md: python3 docs/make_calc_pictures.py OXT, with the Python that has `uno`.

Needs LibreOffice with its GTK look (libreoffice-gtk3), Xvfb, openbox, xdotool and ImageMagick. OXT is the add-in:
brewfuncs calc-addin brewfuncs.oxt, whose path is the one argument.
"""

import os
import subprocess
import sys
import threading
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "tests"))
from office_driver import Office

PICTURES = Path(__file__).with_name("pictures")
DISPLAY, WIDTH, HEIGHT = ":83", 1240, 700
SETTLE = 3  # seconds for a window to be drawn


class Screen:
    """A display of its own, with a window manager."""

    def __enter__(self):
        os.environ.update(DISPLAY=DISPLAY, SAL_USE_VCLPLUGIN="gtk3", GTK_THEME="Adwaita")
        quiet = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
        self.server = subprocess.Popen(["Xvfb", DISPLAY, "-screen", "0", f"{WIDTH}x{HEIGHT}x24"], **quiet)
        time.sleep(SETTLE)
        self.manager = subprocess.Popen(["openbox"], **quiet)
        return self

    def __exit__(self, *_):
        for process in (self.manager, self.server):
            process.terminate()
            process.wait()

    def take(self, name, area=f"{WIDTH}x{HEIGHT}+0+0"):
        time.sleep(SETTLE)
        path = PICTURES / f"{name}.png"
        subprocess.run(
            ["import", "-window", "root", "-crop", area, "+repage", "+dither", "-colors", "128", path], check=True
        )

    def keys(self, *keys):
        subprocess.run(["xdotool", "key", *keys], check=True)

    def place(self, title, x, y, width, height):
        """Move and size the window of that title."""
        found = subprocess.run(["xdotool", "search", "--name", title], capture_output=True, text=True, check=True)
        for window in found.stdout.split():
            subprocess.run(["xdotool", "windowsize", "--sync", window, str(width), str(height)], timeout=5)
            subprocess.run(["xdotool", "windowmove", window, str(x), str(y)], timeout=5)


def fill(office, document):
    """A small table of invented additions, and one array formula."""
    sheet = document.Sheets.getByIndex(0)
    sheet.Name = "Hops"
    rows = [
        ["Hops of Lantern Pale (invented)", "", "", "", ""],
        ["", "g", "alpha", "min", "mg/L"],
        ["Ostrane", 30, 0.055, 60, ""],
        ["Velmark", 20, 0.11, 15, ""],
        ["Tarrow", 25, 0.06, 5, ""],
        ["", "", "", "sum", ""],
    ]
    sheet.getCellRangeByName("A1:E6").setDataArray(tuple(map(tuple, rows)))
    sheet.getCellRangeByName("C3:C5").NumberFormat = 11  # per cent with two decimals
    sheet.getCellRangeByName("E3:E6").NumberFormat = 2  # two decimals
    sheet.getCellRangeByName("E3:E5").setArrayFormula("=HOP_BITTERNESS(B3:B5;C3:C5;D3:D5;20)")
    sheet.getCellRangeByName("E6").setFormula("=SUM(E3:E5)")
    return sheet


def main(addin):
    PICTURES.mkdir(exist_ok=True)
    with Screen() as screen:
        office = Office(headless=False)
        try:
            office.install(addin)
            office.restart()
            document = office.desktop.loadComponentFromURL("private:factory/scalc", "_blank", 0, ())
            time.sleep(2 * SETTLE)
            window = document.CurrentController.Frame.ContainerWindow
            window.setPosSize(0, 0, WIDTH, HEIGHT, 15)
            sheet = fill(office, document)
            document.CurrentController.select(sheet.getCellRangeByName("E3"))
            screen.take("calc-array", "760x330+0+0")

            def dispatch(command):
                helper = office.service("com.sun.star.frame.DispatchHelper")
                arguments = (document.CurrentController.Frame, command, "", 0, ())
                # a dialog answers only when it is closed
                threading.Thread(target=helper.executeDispatch, args=arguments, daemon=True).start()
                time.sleep(2 * SETTLE)

            sheet.getCellRangeByName("G3").setFormula("=HOP_BITTERNESS(30;0.055;60;20)")
            document.CurrentController.select(sheet.getCellRangeByName("G3"))
            dispatch(".uno:FunctionDialog")
            screen.place("Function Wizard", 200, 10, 900, 640)
            screen.take("calc-wizard", "904x690+199+9")
            screen.keys("Escape")
            time.sleep(SETTLE)
            dispatch("service:com.sun.star.deployment.ui.PackageManagerDialog")
            screen.place("Extension", 250, 100, 700, 220)
            screen.take("calc-extensions", "704x345+249+99")
        finally:
            office.process.kill()
            office.process.wait()
            office.process = None
            office.end()


if __name__ == "__main__":
    main(sys.argv[1])
