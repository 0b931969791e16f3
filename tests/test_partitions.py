"""One place's hazards from Parquet parts alone: as the studio itself says, wherever the parts lie and whoever works."""

import io
import subprocess
import sys

import fsspec
import numpy as np
import pandas as pd
import pyarrow as pa
import pytest

from envwatch.archive import Studio
from envwatch.archive.remote import Afar, snapshot
from envwatch.cases import batch
from envwatch.core import period
from envwatch.core.errors import StudioError
from tests.test_marks import END, two_loggers

WEEK = "2026-W44"
NEVER = ("dask", "distributed", "fsspec", "psycopg")


def bits(table: pa.Table) -> bytes:
    """Every bit of a table, the kind of its NaN too."""
    sink = io.BytesIO()
    with pa.ipc.new_stream(sink, table.schema) as stream:
        stream.write_table(table)
    return sink.getvalue()


@pytest.fixture(scope="module")
def todo(demo_folder):
    """The demo studio's week, a piece for each place."""
    with Studio.open(demo_folder) as studio:
        return batch.orders(studio, period.iso_week(WEEK, studio.zone))


@pytest.fixture(scope="module")
def looped(todo):
    """All of it, one piece after the other."""
    return [batch.work(order) for order in todo]


def test_each_place_gets_what_the_studio_itself_says_of_it(demo_folder, todo, looped):
    with Studio.open(demo_folder) as studio:
        for order, table in zip(todo, looped, strict=True):
            own = studio.place_exposure(order.place, order.history_from, order.end)
            assert bits(table) == bits(batch.figures(own, order)), order.place
    assert [order.place for order in todo] == list(batch.worst(batch.together(looped)))
    assert sum(len(order.alike) for order in todo) > 5


def test_a_stand_in_a_check_and_a_logger_of_two_rooms_are_told_as_in_the_studio(demo_copy):
    with Studio.open(demo_copy) as studio:
        studio.stand_in("schummerkuhle", "loft", "2026-10-01", temp_u_c=1.0, rh_u_percent=4.0)
        studio.calibrate("loft", "2026-10-20", rh_points=[(75.0, 73.0)])
        studio.set_hanging("store_wall", "loft", "2026-10-10")
        todo = batch.orders(studio, period.iso_week(WEEK, studio.zone))
        for order in (order for order in todo if order.place in ("schummerkuhle", "loft")):
            own = studio.place_exposure(order.place, order.history_from, order.end)
            assert bits(batch.work(order)) == bits(batch.figures(own, order)), order.place
        stood_in = next(order for order in todo if order.place == "schummerkuhle")
        assert "loft" in stood_in.snapshot.parts
        assert batch.work(stood_in)["coverage"][0].as_py() > 0.5


def test_readings_doubted_for_a_drift_in_another_room_are_doubted_afar_too(tmp_path):
    with two_loggers(tmp_path, bias_percent=5.0) as studio:
        studio.enter("place", {"id": "loft", "name": "Loft"})
        noon = END - pd.Timedelta(days=4, hours=12)
        studio.set_hanging("a", "loft", noon)  # the two drifted apart in the room; the loft never had the other one
        afar = Afar(snapshot(studio, "loft"), str(studio.folder))
        here, there = (of.place_exposure("loft", noon, END).room for of in (studio, afar))
    assert 0 < here.suspect.sum() < len(here.suspect)
    np.testing.assert_array_equal(here.suspect, there.suspect)
    np.testing.assert_array_equal(here.rh_percent, there.rh_percent)


def test_an_object_store_gives_the_same_bits_as_a_folder(demo_folder, todo, looped):
    store = fsspec.filesystem("memory")
    store.put(f"{demo_folder}/readings/", "/archive/readings/", recursive=True)
    try:
        with Studio.open(demo_folder) as studio:
            afar = batch.orders(studio, period.iso_week(WEEK, studio.zone), "memory://archive")
        assert bits(batch.together(map(batch.work, afar))) == bits(batch.together(looped))
        part = next(part for order in afar for held in order.snapshot.parts.values() for part in held)
        store.pipe_file(f"/archive/{part.path}", store.cat_file(f"/archive/{part.path}")[:-1] + b"?")
        harmed = next(order for order in afar if part.logger in order.snapshot.parts)
        with pytest.raises(StudioError, match="it was changed since it was written"):
            batch.work(harmed)
        store.rm_file(f"/archive/{part.path}")
        with pytest.raises(StudioError, match="cannot be read"):
            batch.work(harmed)
    finally:
        store.rm("/archive", recursive=True)


def test_a_place_without_readings_is_not_known_rather_than_clear(tmp_path):
    with Studio.create(tmp_path / "s", name="S", zone="UTC") as studio:
        studio.enter("place", {"id": "attic", "name": "Attic"})
        (order,) = batch.orders(studio, period.iso_week(WEEK, "UTC"))
        table = batch.work(order)
    assert set(table["level"].to_pylist()) == {1} and table["coverage"].to_pylist()[0] == 0


def test_no_owner_and_no_name_of_a_painting_leaves_for_another_machine(demo_folder, todo):
    import pickle

    with Studio.open(demo_folder) as studio:
        told = [word for p in studio.paintings().values() for word in (p.title, p.owner)]
        told = [word for word in told if len(word) > 4 and word != "the studio"]  # whose word also a figure may be
    sent = pickle.dumps(todo)
    assert len(told) > 10 and not [word for word in told if word.encode() in sent]


@pytest.mark.filterwarnings("ignore::ResourceWarning")  # its own sockets, while its processes end
def test_two_dask_workers_give_the_same_bits_as_a_plain_loop(todo, looped):
    from distributed import Client, LocalCluster

    with (
        LocalCluster(
            n_workers=2, threads_per_worker=1, processes=True, host="127.0.0.1", dashboard_address=None
        ) as two,
        Client(two) as client,
    ):
        assert len({info["name"] for info in client.scheduler_info()["workers"].values()}) == 2
        pieces = client.map(batch.work, todo, pure=False)
        shared = client.gather(pieces)
        who = {worker for held in client.who_has(pieces).values() for worker in held}
    assert len(who) == 2
    assert bits(batch.together(shared)) == bits(batch.together(looped))


def test_the_ordinary_commands_import_nothing_of_it(demo_copy):
    code = (
        "import sys, envwatch.cli as c\n"
        f"sys.argv = ['envwatch', 'review', '--week', '{WEEK}', '--no-keep', '--studio', {str(demo_copy)!r}]\n"
        "try: c.main()\nexcept SystemExit: pass\n"
        "import dashboards\n"
        f"print('imported:', [m for m in sys.modules if m.split('.')[0] in {NEVER!r} or 'partitions' in m])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, encoding="utf-8")
    assert done.stdout.splitlines()[-1] == "imported: []"
