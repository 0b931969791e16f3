"""Which looks at a painting count."""

import pandas as pd

from envwatch.core.painting import Look, Observation, Painting


def last_own_look(painting: Painting, before: pd.Timestamp) -> Observation | None:
    """The last own look (raking light, front and back) up to `before`, whatever it showed; None: there is none.

    A look in passing, a photograph, a telephone call and a look of no known kind are none. Of a look by its day alone
    the day's start counts.
    """
    own = (seen for seen in painting.observations if seen.look == Look.OWN and seen.on <= before)
    return max(own, key=lambda seen: seen.on, default=None)
