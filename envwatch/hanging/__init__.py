"""Where in a house a relined painting may hang: positions described or logged, judged by the one path, and ranked."""

from envwatch.hanging.advice import Advice, SpotAdvice, advise
from envwatch.hanging.reading import cells, described, read
from envwatch.hanging.spot import House, Spot

__all__ = ["Advice", "House", "Spot", "SpotAdvice", "advise", "cells", "described", "read"]
