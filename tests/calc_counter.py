"""Put at the end of the extension's code by a test: each call of a worksheet function leaves its name in a file.

The file is the one that the environment names; where it names none nothing is counted.
"""

import os

from brewfuncs.catalogue import CATALOGUE


def _count_calls(component):
    file = os.open(os.environ["BREWFUNCS_COUNT_CALLS"], os.O_WRONLY | os.O_APPEND | os.O_CREAT)

    def counted(name, method):
        line = (name + "\n").encode()

        def call(*arguments):
            os.write(file, line)
            return method(*arguments)

        return call

    for name in CATALOGUE:
        setattr(component, name, counted(name, getattr(component, name)))


if "BREWFUNCS_COUNT_CALLS" in os.environ:
    _count_calls(AddIn)  # noqa: F821  (the component's class, in the code before)
