"""Results -> printed pages, as the bytes of a PDF. No arithmetic beyond formatting.

One module a sheet makes its content, plain strings and numbers; `page` sets it in type.
"""

from envwatch.present.paper.review import weekly

__all__ = ["weekly"]
