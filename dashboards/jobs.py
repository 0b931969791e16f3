"""Long work beside the pages: begun once, watched until it is done, its result kept while nothing changes."""

from __future__ import annotations

import logging
import threading
from collections.abc import Callable, Hashable
from dataclasses import dataclass, field
from typing import Any

from dash import dcc, html

from envwatch.core.errors import BadInput, EnvwatchError

LOG = logging.getLogger(__name__)
Report = Callable[[int, int, str], None]
Work = Callable[[Any, Report], Any]  # (a studio of its own, what it calls as it goes on) -> the result
KEPT, MOST_WAITING = 8, 4
LOOK_AGAIN_MS = 700


@dataclass
class Job:
    """One piece of work. `done` of `of` steps; `refused`: why there is no result."""

    done: int = 0
    of: int = 0
    doing: str = "waiting for its turn"
    result: Any = None
    refused: EnvwatchError | None = None
    over: threading.Event = field(default_factory=threading.Event)

    def finished(self) -> Any:
        """The result, waited for. Raises what the work was refused with."""
        self.over.wait()
        if self.refused is not None:
            raise self.refused
        return self.result

    def report(self, done: int, of: int, doing: str) -> None:
        """What the work calls as it goes on."""
        self.done, self.of, self.doing = done, of, doing


class JobQueue:
    """Works on one thing at a time, whoever asked; what was asked before is not worked out again."""

    def __init__(self) -> None:
        self._jobs: dict[Hashable, Job] = {}
        self._looking, self._working = threading.Lock(), threading.Lock()

    def job(self, key: Hashable, work: Callable[[Report], Any]) -> Job:
        """The work with this key, begun now if it never was.

        Raises
        ------
        BadInput : too many other things wait.
        """
        with self._looking:
            found = self._jobs.pop(key, None)
            if found is None:
                if sum(not job.over.is_set() for job in self._jobs.values()) >= MOST_WAITING:
                    raise BadInput("other reckonings are still at work here; ask again when one is done")
                found = Job()
                threading.Thread(target=self._work, args=(found, work), daemon=True).start()
            self._jobs[key] = found  # the last asked stands last
            for old in list(self._jobs)[:-KEPT]:
                if self._jobs[old].over.is_set():
                    del self._jobs[old]
            return found

    def _work(self, job: Job, work: Callable[[Report], Any]) -> None:
        try:
            with self._working:
                job.doing = "beginning"
                job.result = work(job.report)
        except EnvwatchError as error:
            job.refused = error
        except Exception as error:
            LOG.error("a fault in a reckoning", exc_info=error)
            job.refused = EnvwatchError(f"A fault in envwatch itself ({type(error).__name__})")
        finally:
            job.over.set()


def waiting(job: Job, what: str, page: str, asked: dict[str, str]) -> html.Div:
    """Shown until the work that was asked for on a page is done."""
    return html.Div([html.P(what, role="status"), html.Div(bar(job), id="reckoned"),
                     dcc.Store(id="reckon-asked", data=[page, asked]),
                     dcc.Interval(id="reckon-tick", interval=LOOK_AGAIN_MS)], className="notice")  # fmt: skip


def bar(job: Job) -> list:
    """How far it has come."""
    told = f"{job.done} of {job.of}: {job.doing}" if job.of else job.doing
    return [html.Progress(value=str(job.done), max=str(max(job.of, 1)), **{"aria-label": "done so far"}),
            html.Span(told, className="quiet")]  # fmt: skip
