"""The science, one module a subject. Importing it fills the catalogue."""

from . import beer, boil, dms, hops, mash, reference, sanitizer, water, wort  # noqa: F401
