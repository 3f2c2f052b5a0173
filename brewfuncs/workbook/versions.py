"""Which version of the formulas a workbook was made with."""

from __future__ import annotations

from brewfuncs.xlsx.package import Package

VERSION_PROPERTY, REVISIONS_PROPERTY = "brewfuncs_version", "brewfuncs_revisions"


def revisions(package: Package) -> tuple[str | None, dict[str, int]]:
    """The version and the formula revisions that a workbook says it was made with."""
    properties = package.properties
    revisions = {}
    for pair in properties.get(REVISIONS_PROPERTY, "").split():
        name, _, number = pair.partition("=")
        if number.isdigit():
            revisions[name.upper()] = int(number)
    return properties.get(VERSION_PROPERTY), revisions
