"""The science, one module a subject. Importing it fills the catalogue."""

from . import beer, boil, dms, hopage, hops, mash, reference, sanitizer, water, watertreatment, wort, yeast  # noqa: F401
