"""A private LibreOffice with a window on a virtual display, driven by keystrokes; runs under the Python that has `uno`.

As office_driver.py, whose requests it answers too, but what is entered is typed: cells are chosen through UNO, and
everything after that is keys, as a person's. Needs Xvfb, xdotool and openbox (without a window manager no dialog gets
the keys).
"""

import json
import os
import shutil
import subprocess
import sys
import tempfile
import threading
import time
import traceback

import office_driver
import unohelper
from com.sun.star.awt import XCallback
from office_driver import properties, url

PATIENCE = 60  # seconds, for what takes some tenths on a quiet machine
OPENING = 0.1  # seconds that a list takes at least: to look for windows costs more than to wait
SHORT, LONG = 0.02, 0.3  # seconds between two looks, at first and later: a look keeps the program from its work


class Display:
    """Xvfb and a window manager, on the first display that is free."""

    def __init__(self, size):
        readable, writable = os.pipe()
        self.running = [
            subprocess.Popen(
                ["Xvfb", "-displayfd", str(writable), "-screen", "0", f"{size}x24", "-nolisten", "tcp"],
                pass_fds=[writable],
                stdout=subprocess.DEVNULL,
                stderr=subprocess.DEVNULL,
            )
        ]
        os.close(writable)
        with os.fdopen(readable) as answer:
            os.environ["DISPLAY"] = f":{answer.readline().strip()}"
        self.running.append(subprocess.Popen(["openbox"], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL))

    def end(self):
        for process in reversed(self.running):
            process.terminate()
            process.wait(10)


def keys(*command):
    subprocess.run(["xdotool", *command], check=True, stdout=subprocess.DEVNULL)


def windows():
    """What is seen on the display: dialogs, lists under cells, and the like are windows too."""
    found = subprocess.run(["xdotool", "search", "--onlyvisible", "--name", ""], capture_output=True, text=True)
    return set(found.stdout.split())


def within(seconds, true):
    """Wait for it; what it gave, something false where it didn't come."""
    began, pause = time.monotonic(), SHORT
    while not (found := true()) and time.monotonic() - began < seconds:
        time.sleep(pause)
        pause = min(1.5 * pause, LONG)
    return found


def until(true, what):
    """Wait for it as long as patience lasts; what it gave."""
    if found := within(PATIENCE, true):
        return found
    raise RuntimeError(f"not in {PATIENCE} s: {what}")


class Later(unohelper.Base, XCallback):
    """Called back by the program when it is idle; what is called from there runs in the same thread."""

    def __init__(self, act):
        self.act, self.done = act, threading.Event()

    def notify(self, _):
        self.act()
        self.done.set()


class Window(office_driver.Office):
    def __init__(self):
        self.key = self.document = None
        super().__init__(headless=False)
        self.toolkit = self.service("com.sun.star.awt.Toolkit")

    def restart(self):
        super().restart()
        self.toolkit = self.service("com.sun.star.awt.Toolkit")

    def open(self, path):
        document = self.desktop.loadComponentFromURL(url(path), "_blank", 0, properties())
        self.key, self.document = self._keep(document), document
        self.window = document.CurrentController.Frame.ContainerWindow
        self.window.setPosSize(0, 0, 1366, 740, 15)
        until(lambda: self._dialog() is None and self.toolkit.getActiveTopWindow() is not None, "a window")
        return self.key

    def close(self, key):
        self.documents[key].setModified(False)
        super().close(key)

    def picture(self, path):
        time.sleep(0.5)
        subprocess.run(["import", "-window", "root", path], check=True)

    def inputs(self):
        """The cells that have names: name -> sheet and whether a person sees it."""
        names = self.document.NamedRanges
        return {name: self._cells(name).Spreadsheet.Name for name in names.ElementNames if self._cells(name)}

    def infobar(self, name, seconds):
        """Whether there is one within so many seconds: it is put there after the file was opened."""
        return within(seconds, lambda: self.document.CurrentController.hasInfobar(name))

    # -- keys --------------------------------------------------------------------------------------------------------

    def _cells(self, name):
        return self.document.NamedRanges.getByName(name).getReferredCells()

    def _go(self, name):
        cells, controller = self._cells(name), self.document.CurrentController

        def show():
            if controller.ActiveSheet.Name != cells.Spreadsheet.Name:
                controller.setActiveSheet(cells.Spreadsheet)
            controller.select(cells)

        self._as_the_window_does(show)
        return cells.getCellByPosition(0, 0)

    def _as_the_window_does(self, act):
        """Act in the program's main thread: what is drawn from another ends it now and then."""
        later = Later(act)
        self.service("com.sun.star.awt.AsyncCallback").addCallback(later, None)
        if not later.done.wait(PATIENCE):
            raise RuntimeError("the window doesn't answer")

    def type(self, name, text):
        """Type something else into a named cell and press Return: what the cell shows then, and the sentence if it was
        refused."""
        cell = self._go(name)
        before = cell.Formula
        keys("type", "--delay", "4", "--args", "1", "--", text, "key", "Return")
        return self._outcome(cell, before)

    def choose(self, name, text):
        """Choose from a cell's list, which Alt and the down arrow open. It takes keys a moment after it is seen; on a
        busy machine they are lost now and then, and one chooses again."""
        cell = self._go(name)
        before = windows()
        for _ in range(3):
            keys("key", "alt+Down")
            time.sleep(OPENING)
            until(lambda: windows() - before, f"the list of {name}")
            keys("key", "--delay", "4", "Home", *["Down"] * self._listed(cell).index(text), "Return")
            until(lambda: not windows() - before, f"the list of {name} closed")
            if within(5, lambda: cell.String == text):
                return {"shown": cell.String}
        raise RuntimeError(f"not {text} in {name}, which shows {cell.String}")

    def _listed(self, cell):
        return cell.Validation.Formula1.strip('"').replace('";"', ",").split(",")

    def clear(self, name):
        cell = self._go(name)
        keys("key", "Delete")
        until(lambda: not cell.Formula, f"{name} blank")
        return {"shown": ""}

    def _outcome(self, cell, before):
        """The cell holds something else now, or a dialog tells why not."""

        def told():
            if dialog := self._dialog():
                return dialog
            return cell.Formula != before

        found = until(told, f"an outcome at {cell.AbsoluteName}")
        if found is True:
            return {"shown": cell.String}
        sentence = until(lambda: self._sentence(found), "a sentence")
        for key in ("Return", "Escape", "Escape"):
            keys("key", key)
            time.sleep(0.1)
        until(lambda: self._dialog() is None, "the dialog gone")
        return {"refused": sentence, "shown": cell.String}

    def _dialog(self):
        active = self.toolkit.getActiveTopWindow()
        if active is None or active == self.window:
            return None
        return active

    def _sentence(self, dialog):
        said = []

        def listen(context):
            if context.getAccessibleName():
                said.append(context.getAccessibleName())
            for number in range(context.getAccessibleChildCount()):
                child = context.getAccessibleChild(number)
                if child is not None:
                    listen(child.getAccessibleContext())

        listen(dialog.getAccessibleContext())
        return " ".join(said)


def main():
    os.environ["HOME"] = home = tempfile.mkdtemp(prefix="window-")
    display = Display(sys.argv[1] if len(sys.argv) > 1 else "1366x768")
    office = None
    try:
        office = Window()
        print(json.dumps({"result": office.version()}), flush=True)
        for line in sys.stdin:
            name, arguments = json.loads(line)
            try:
                answer = {"result": getattr(office, name)(*arguments)}
            except Exception:
                answer = {"error": traceback.format_exc()}
            print(json.dumps(answer), flush=True)
    finally:
        if office is not None:
            office.end()
        display.end()
        shutil.rmtree(home, ignore_errors=True)


if __name__ == "__main__":
    main()
