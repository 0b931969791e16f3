"""What the pages keep in memory has a ceiling, and what their threads have freed goes back to the system."""

import subprocess
import sys
from pathlib import Path

import pytest

from dashboards import memory, session
from dashboards.session import PagesStudio, StudioSession
from envwatch.archive import Studio

PROGRAM = """
import sys, threading
from dashboards import memory
if sys.argv[1] == "shared": assert memory.share_heaps()
held = lambda: next(int(l.split()[1]) // 1024 for l in open("/proc/self/status") if l.startswith("VmRSS"))
begun, kept = held(), []
def work():
    made = [bytearray(50_000) for _ in range(1200)]  # 60 MB in pieces, each below what is asked of the system by itself
    kept.append(made[::100])
for _ in range(8):
    thread = threading.Thread(target=work); thread.start(); thread.join()
before = held()
if sys.argv[1] == "shared": assert memory.Freed().give_back()
print(before - begun, held() - begun)
"""


@pytest.mark.skipif(not memory._call("malloc_trim", 0), reason="another C library than glibc")
def test_a_page_server_gives_back_what_its_threads_have_freed():
    def run(how: str) -> list[int]:
        done = subprocess.run([sys.executable, "-c", PROGRAM, how], capture_output=True, text=True, check=True)
        return [int(part) for part in done.stdout.split()]

    _before, left = run("shared")
    assert left < 20  # MB, of 8 x 60 that were made and freed but for 5


def test_memory_is_given_back_at_most_every_few_seconds_and_nowhere_is_a_fault():
    freed = memory.Freed()
    assert freed.give_back(now=100.0) in (True, False) and freed._last == 100.0
    assert not freed.give_back(now=100.0 + memory.GIVE_BACK_S / 2) and freed._last == 100.0
    freed.give_back(now=101.0 + memory.GIVE_BACK_S)
    assert freed._last == 101.0 + memory.GIVE_BACK_S
    assert memory._call("no_such_call_of_any_library", 0) is False


def test_the_pages_keep_less_than_a_command_and_a_ceiling_holds(demo_folder):
    home = StudioSession(demo_folder)
    with home.reading() as studio:
        most = PagesStudio.most_read, PagesStudio.most_worked_out, PagesStudio.memory.most
        kept = studio.reader._read, studio.state().worked_out, studio.memory
        assert studio.state().air.memory is studio.memory is not Studio.memory
        assert tuple(one.most for one in kept) == most
        assert sum(rows * cost for rows, cost in zip(most, (40, 60, 60), strict=True)) < 300 * 2**20
    for n in range(9):
        home.keep_on_shelf(f"t{n}", f"{Path(f'{n}.csv')}", bytes(9 * 2**20))
    held = sum(len(content) for _, content in home.shelf.values())
    assert held <= session.MOST_SHELF and list(home.shelf)[-1] == "t8"
    home.close()
