"""Whether a canvas has settled to the air of the room it is in, and for how long."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from envwatch import climate
from envwatch.figures import around_lining as fig


@dataclass(frozen=True)
class Settled:
    """A canvas against its room. [% RH], [h]

    Attributes
    ----------
    room : mean of the room's last day; canvas : what the canvas has come to; doubt : half-width of that.
    hours : for how long the canvas has been as near to `room` as counts for settled; 0 where it is not.
    wait_h : how long until it is, in a room that stays as it is.
    """

    room: float
    canvas: float
    doubt: float
    tau_h: float
    hours: float
    wait_h: float


def wait_to_settle_h(step: float, tau_h: float, within: float = float(fig.SETTLED_WITHIN_PERCENT)) -> float:
    """Time until a step has closed to `within`, by first-order lag: tau ln(step / within). [% RH], [h] -> [h]

    Source: first-order response, solved for time.

    >>> round(wait_to_settle_h(20, 24), 2), wait_to_settle_h(-1.5, 24)
    (55.26, 0.0)
    """
    return float(tau_h * np.log(max(abs(step) / within, 1.0)))


def settled(rh_percent, tau_h: float) -> Settled | None:
    """How a canvas stands to its room at the end of a record; None where the last day was not read well enough.

    Parameters
    ----------
    rh_percent : (n,) hourly means at the painting up to now, NaN where not read. [% RH]
    tau_h : time constant of the build-up. [h]

    Returns
    -------
    `Settled`. Where gaps or the beginning of the record leave the canvas in doubt, the farther side counts.

    Source: first-order response; the nearness that counts as settled is our judgement.

    >>> settled([50.0] * 200, 24).hours
    200.0
    """
    rh = np.asarray(rh_percent, float)
    if not len(rh) or np.isnan(rh[-1]):
        return None
    room = float(climate.running_mean(rh, int(fig.ROOM_MEAN_H))[-1])
    held = climate.canvas_humidity_range(rh, tau_h)
    if np.isnan(room) or np.isnan(held.held[-1]):
        return None
    off = np.abs(held.held - room) + np.nan_to_num(held.doubt)
    far = np.flatnonzero(~(off <= fig.SETTLED_WITHIN_PERCENT))
    hours = float(len(rh) - 1 - far[-1]) if len(far) else float(len(rh))
    return Settled(
        room, float(held.held[-1]), float(held.doubt[-1]), tau_h, hours, wait_to_settle_h(float(off[-1]), tau_h)
    )
