"""Where in a house a relined painting may hang: positions described or logged, judged by the one path, and ranked."""

from envwatch.cases.hanging.advice import advise
from envwatch.cases.hanging.inputs import cells, described, read
from envwatch.cases.hanging.model import HangingReport, PositionResult
from envwatch.cases.hanging.spot import HangingPosition, House

__all__ = ["HangingReport", "House", "HangingPosition", "PositionResult", "advise", "cells", "described", "read"]
