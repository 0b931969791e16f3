"""The dossier of one painting on paper, and the bundle for a dispute."""

import hashlib
import io
import json
import zipfile

import numpy as np
import pandas as pd
import pytest
from typer.testing import CliRunner

from envwatch.archive import Studio
from envwatch.archive.upkeep.bundle import write_bundle
from envwatch.cases import review
from envwatch.cases.painting import handover
from envwatch.cli import app
from envwatch.core.errors import BadInput, NotThere
from envwatch.core.period import iso_week
from envwatch.present.paper.dossier import content, dossier

NOW = pd.Timestamp("2026-11-25T10:00Z")


@pytest.fixture
def demo(demo_copy):
    with Studio.open(demo_copy) as studio:
        yield studio


def text_of(result):
    return json.dumps(content(result), ensure_ascii=False)


def test_the_dossier_goes_from_the_last_treatment_to_the_last_reading_with_every_stay(demo):
    result = handover.of(demo, "25-11", NOW)
    assert [s.place for s in result.segments] == ["Studio", "Drying loft", "Studio"]
    assert result.period.start == demo.find_painting("25-11").treatments[-1].on
    loft = result.segments[1]
    air = demo.climate("loft", loft.start, loft.end)
    assert loft.temp_c == (np.nanmin(air.temp_c), np.nanmax(air.temp_c))
    days = result.days.days
    assert (days[1:] - days[:-1] == pd.Timedelta(days=1)).all()
    assert np.nanmax(result.days.temp_c[1]) <= loft.temp_c[1]
    told = content(result)
    assert [m["n"] for m in told["moves"]] == ["2", "3"]
    assert told["findings"][0]["word"] == "urgent"


def test_moves_too_near_to_be_told_apart_share_a_mark(demo):
    assert [m["n"] for m in content(handover.of(demo, "25-16", NOW, with_owner=True))["moves"]] == ["2, 3"]


def test_the_owner_and_the_owners_house_are_left_out_unless_asked_for(demo):
    owner = demo.find_painting("25-16").owner
    closed, open_ = (handover.of(demo, "25-16", NOW, with_owner=asked) for asked in (False, True))
    for word in (owner, "Querlicht", "querlicht"):
        assert word not in text_of(closed), word
    assert owner in text_of(open_)
    assert "Querlicht" in text_of(open_)
    home = closed.segments[-1]
    in_house = closed.days.days > home.start.tz_convert(demo.zone).tz_localize(None)
    assert in_house.any()
    assert np.isnan(closed.days.temp_c[0][in_house]).all()
    assert np.isfinite(open_.days.temp_c[0][in_house]).any()
    assert "querlicht" not in {file.logger for file in closed.files}
    assert {file.logger for file in open_.files} > {file.logger for file in closed.files}
    assert "⟦owner⟧" in closed.withheld[0]


def test_the_bundle_holds_the_originals_byte_for_byte_with_a_list_that_proves_it(demo, tmp_path):
    review.keep(demo, review.make(demo, NOW, iso_week("2026-W44", demo.zone)))
    demo.calibrate("loft", "2026-09-10", rh_points=((75.5, 77.0),), basis="salt")
    result = handover.of(demo, "25-11", NOW)
    papers = {"dossier.pdf": dossier(result), **handover.papers(demo, result)}
    names = write_bundle(demo, tmp_path / "b.zip", papers, result.files, NOW)
    with zipfile.ZipFile(tmp_path / "b.zip") as bundle:
        assert bundle.testzip() is None
        assert set(bundle.namelist()) == set(names)
        listed = dict(line.split("  ", 1)[::-1] for line in bundle.read("SHA256SUMS.txt").decode().splitlines())
        for name in set(names) - {"SHA256SUMS.txt"}:
            assert hashlib.sha256(bundle.read(name)).hexdigest() == listed[name]
        kept = {hashlib.sha256(bundle.read(n)).hexdigest() for n in names if n.startswith("originals/")}
        assert kept == {file.sha256 for file in result.files}
        limits = pd.read_csv(io.BytesIO(bundle.read("limits.csv")))
        assert (limits.review == "2026-W44").all()
        assert (limits.same == "yes").all()
        assert {"heat-seal film: heat hour, act", "canvas: day change watch"} <= set(limits.finding)
        assert not limits.finding.str.startswith("wax-resin").any()  # no layer of this painting
        assert b"loft,,2026-09-10" in bundle.read("calibrations.csv")
        everything = b"".join(bundle.read(name) for name in names if not name.startswith("originals/"))
        assert demo.find_painting("25-11").owner.encode() not in everything
    again = write_bundle(demo, tmp_path / "c.zip", papers, result.files, NOW)
    assert again == names
    assert (tmp_path / "c.zip").read_bytes() == (tmp_path / "b.zip").read_bytes()


def test_an_original_that_was_changed_is_named_and_not_put_in(demo, tmp_path):
    result = handover.of(demo, "25-11", NOW)
    spoilt = result.files[0]
    path = demo.folder / "originals" / f"{spoilt.sha256}{spoilt.suffix}"
    path.chmod(0o644)
    path.write_bytes(b"not what it was")
    write_bundle(demo, tmp_path / "b.zip", {}, result.files, NOW)
    with zipfile.ZipFile(tmp_path / "b.zip") as bundle:
        assert f"{spoilt.name}: the original is gone or was changed" in bundle.read("SHA256SUMS.txt").decode()
        assert len(bundle.namelist()) == len(result.files)


def test_a_limit_that_was_changed_since_a_review_stands_beside_todays(demo):
    span = iso_week("2026-W29", demo.zone)
    review.keep(demo, review.make(demo, NOW, span))
    own = "[eva_film.heat_hour_c]\nact = { value = 38, reason = 'our strips crept at 39 °C' }\n"
    (demo.folder / "materials.toml").write_text(own, encoding="utf-8")
    result = handover.of(demo, "25-11", NOW, "2026-07-13", "2026-07-19")
    changed = [(told.finding, told.then, told.today, told.review) for told in result.limits if not told.same]
    assert changed == [("heat-seal film: heat hour, act", 40.0, 38.0, "2026-W29")]
    assert content(result)["limits"] == [
        ["heat-seal film: heat hour, act", "2026-W29", "40 °C (our judgement)", "38 °C (the studio's own)"]
    ]
    assert any("our strips crept" in line for line in result.sources)


def test_the_same_dossier_prints_to_the_same_bytes_and_no_markup_of_a_person_is_read(demo):
    demo.enter("painting", {"id": "25-11", "ground": "#panic[x] *bold* <b>", "maker": "$x$ \\u202e"})
    demo.observe("25-11", "2026-10-01", "#let x = 1", photo="a.jpg")
    result = handover.of(demo, "25-11", NOW)
    assert dossier(result) == dossier(result)
    assert dossier(result, "letter")[:5] == b"%PDF-"


def test_a_dossier_of_a_painting_without_anything_is_refused_or_not_known(demo):
    demo.enter("painting", {"id": "bare", "title": "Bare"})
    with pytest.raises(BadInput, match="give from and to"):
        handover.of(demo, "bare", NOW)
    result = handover.of(demo, "bare", NOW, "2026-10-01", "2026-10-10")
    assert result.line.level.word == "not known"
    assert dossier(result)[:5] == b"%PDF-"
    with pytest.raises(NotThere):
        handover.of(demo, "no such", NOW)
    with pytest.raises(BadInput, match="before the start"):
        handover.of(demo, "25-11", NOW, "2026-10-10", "2026-10-01")


def test_the_command_prints_and_bundles(demo, tmp_path):
    run = CliRunner().invoke(
        app, ["dossier", "25-11", "--studio", str(demo.folder), "--bundle", str(tmp_path / "b.zip")]
    )
    assert run.exit_code == 0, run.output
    assert (tmp_path / "b.zip").is_file()
    assert list((demo.folder / "sheets").glob("dossier-25-11-a4.pdf"))
    run = CliRunner().invoke(app, ["dossier", "25-16", "--json", "--studio", str(demo.folder)])
    assert json.loads(run.stdout)["segments"][-1][1].startswith("the owner's house")


def test_a_handover_and_a_call_stand_on_the_dossier_and_are_no_treatments(demo_copy):
    with Studio.open(demo_copy) as studio:
        studio.treat("26-02", "call", "2026-11-02", note="Client: bubble.", adds_layer=False)
        told = content(handover.of(studio, "26-02", NOW))
    assert any("call. Client: bubble." in line for line in told["spoken"])
    assert not any("Call" in treatment["title"] for treatment in told["treatments"])
