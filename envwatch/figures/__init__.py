"""Every constant and limit outside the materials file, by subject, and the bibliography.

One module a subject; no figure stands in two of them. A limit that belongs to an adhesive or
a consolidant is in the materials file and nowhere else.
"""

from envwatch.core.quantities import Confidence, Figure
from envwatch.figures.sources import SOURCES

__all__ = ["SOURCES", "Confidence", "Figure"]
