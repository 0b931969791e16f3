"""The program in the process of the tests: what it prints and its exit code, without a start of its own each time.

And processes beside that of the tests, for what must be killed or must write at the same time.
"""

from __future__ import annotations

import io
import multiprocessing
import os
import subprocess
import sys
from contextlib import redirect_stderr, redirect_stdout
from functools import cache
from unittest import mock


@cache
def beside() -> multiprocessing.context.BaseContext:
    """Processes of their own, each forked off one in which nothing ever ran, but which has loaded the program: a new
    Python would load it each time anew. Where nothing can be forked, each is a new Python."""
    if "forkserver" not in multiprocessing.get_all_start_methods():
        return multiprocessing.get_context("spawn")
    made = multiprocessing.get_context("forkserver")
    made.set_forkserver_preload(["tests.test_archive", "tests.long.faults"])
    return made


def run(*words: object) -> subprocess.CompletedProcess:
    """What `envwatch` with these words prints, on which stream, and its exit code; a traceback is one here too."""
    from envwatch.cli import main

    out, err = io.StringIO(), io.StringIO()
    line, env = ["envwatch", *map(str, words)], {k: v for k, v in os.environ.items() if k != "ENVWATCH_DEBUG"}
    with (
        mock.patch.object(sys, "argv", line),
        mock.patch.dict(os.environ, env, clear=True),
        redirect_stdout(out),
        redirect_stderr(err),
    ):
        try:
            main()
            code = 0
        except SystemExit as left:
            code = left.code if isinstance(left.code, int) else int(left.code is not None)
    return subprocess.CompletedProcess(line, code, out.getvalue(), err.getvalue())
