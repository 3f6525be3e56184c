"""A site with several cameras: its file, the work that goes on, the plan, and a cluster."""

from __future__ import annotations

import json
import os
import signal
import threading
from dataclasses import replace

import numpy as np
import pytest
from bare import bare

from simulator.errors import InputError
from simulator.judge.result import Limit, RemedyRow
from simulator.report.survey.words import answer, shopping
from simulator.report.wording import say, say_all
from simulator.studies.survey import study
from simulator.studies.survey.site_file import SiteFile
from simulator.studies.survey.study import moved, survey

SMALL = ["sensor.width_px=960", "sensor.height_px=540", "sensor.pixel_pitch_um=5.8",
         "target.plate.speed_kmh=0.0", "processing.temporal_noise_reduction=0.0"]  # fmt: skip

SITE = f"""
title = "Two gates"
[hours]
typical = ["natural_light.illuminance_lux=2000", "natural_light.spectrum=daylight"]
[[position]]
name = "lit"
scene = "{bare("depot-gate-infrared")}"
camera = "plate-2mp-infrared"
x_m = 0.0
y_m = 0.0
bearing_deg = 90.0
price = 500.0
set = {json.dumps(SMALL)}
[[position]]
name = "unlit"
scene = "{bare("depot-gate-dark")}"
camera = "plate-2mp-infrared"
x_m = 30.0
y_m = 5.0
bearing_deg = 0.0
set = {json.dumps(SMALL)}
"""


@pytest.fixture(scope="module")
def file(tmp_path_factory):
    path = tmp_path_factory.mktemp("site") / "two-gates.toml"
    path.write_text(SITE)
    return path


@pytest.fixture(scope="module")
def found(file):
    return survey(SiteFile.load(file), trials=16, workers=1, reach=(0.8,), why=False, seed=2)


@pytest.mark.invariant
def test_the_greatest_risk_comes_first(found):
    assert [row.position.name for row in found.rows] == ["unlit", "lit"]
    assert found.rows[0].margin <= found.rows[1].margin
    for row in found.rows:
        assert row.typical["probability"] >= row.worst["probability"]
        assert row.worst["mode"] == "night"


@pytest.mark.by_hand
def test_places_on_the_plan(found):
    """Bearing 90: what stands 18 m ahead and 0.4 m to the right of the camera at (0, 0) is at
    x = 18, y = -0.4 on the plan."""
    from simulator.report.survey.plan import density_on_plan, to_plan, to_scene

    row = next(row for row in found.rows if row.position.name == "lit")
    place = to_plan(row, np.array([0.4, 18.0, 0.55]))
    np.testing.assert_allclose(place, [18.0, -0.4], atol=1e-12)
    np.testing.assert_allclose(to_scene(row, place, 0.55), [0.4, 18.0, 0.55], atol=1e-12)
    # a plane 18.1 m away along the axis, 22 mm and 5.8 um: 22e-3/5.8e-6/18.1 = 210 px/m
    assert float(density_on_plan(row, place)) == pytest.approx(210.0, rel=0.02)
    assert np.isnan(density_on_plan(row, np.array([-5.0, 0.0])))


@pytest.mark.by_hand
def test_the_target_moves_along_the_ground(found):
    row = found.rows[0]
    there = moved(row.scene, row.scene.model.station.position_m, 0.5)
    np.testing.assert_allclose(there.model.target[0].position_m, [0.2, 9.0, 0.55])


@pytest.mark.invariant
def test_files_and_report(found, tmp_path):
    from simulator.report.document import section_of
    from simulator.report.survey.sheet import save_survey

    folder = save_survey(tmp_path / "out", found)
    assert (folder / "plan.png").stat().st_size > 40_000
    lines = (folder / "positions.csv").read_text().splitlines()
    assert len(lines) == 1 + 2 * 2  # two positions at two hours
    told = json.loads((folder / "verdict.json").read_text())
    assert told["positions"][0]["name"] == "unlit"
    assert section_of(folder).tables


@pytest.mark.by_hand
def test_what_the_hours_stand_for_is_told(found):
    from simulator.report.survey.words import hours_of, lines_of, verdict_table

    unlit, lit = found.rows
    assert hours_of(unlit) == (
        "night sky, 0.05 lx on level ground; no lamp on",
        "daylight, 2 000 lx on level ground; no lamp on",
    )
    assert hours_of(lit)[0] == "night sky, 0.02 lx on level ground; on: mast infrared"
    first, second = lines_of(found)
    assert first.startswith("unlit: ")
    assert "night sky, 0.05 lx" in first
    assert "daylight, 2 000 lx" in second
    told = verdict_table(found)
    assert told["positions"][1]["light"]["worst"] == hours_of(lit)[0]
    table = next(t for t in told["tables"] if t["caption"].startswith("What the hours stand for"))
    assert table["rows"][0] == ["unlit", *hours_of(unlit)]


def asked_at(found, **change):
    """The first row with limits, or remedies, put in by hand."""
    first = replace(found.rows[0], **change)
    return replace(found, rows=[first, *found.rows[1:]], sought="remedies" in change)


@pytest.mark.by_hand
def test_advice_is_told_as_advice_and_remedies_as_tried(found):
    light = Limit(factor="light", share=0.8, probability_without=1.0, probability_only=0.0)
    blur = Limit(factor="defocus", share=0.2, probability_without=0.0, probability_only=0.0)
    told = shopping(asked_at(found, limits=[light, blur]))
    assert [m.id.partition(".")[2] for m in told[:2]] == ["alone", "adds"]
    assert told[0].values["position"] == "unlit"
    assert told[0].values["probability"] == 1.0
    assert told[-1].id == "survey-change.not-tried"
    company = {"together_with": ("light", "glare"), "probability_together": 0.9}
    named = blur.model_copy(update=company)
    second = shopping(asked_at(found, limits=[light, named]))[1]
    assert second.id == "survey-change.together"
    assert (len(second.values["others"]), second.values["probability"]) == (2, 0.9)
    remedy = RemedyRow(
        lever="infrared lamp beside the lens", before=0.0, to=1.234, unit="W/sr",
        probability=0.97, reaches=True,
    )  # fmt: skip
    told = shopping(asked_at(found, limits=[light], remedies=[remedy]))
    own = [m for m in told if m.values.get("position") == "unlit"]
    assert [m.id for m in own] == ["survey-change.reaches"]
    assert own[0].values["probability"] == 0.97
    assert "1.23 W/sr" in say(own[0])
    told = shopping(asked_at(found, remedies=[remedy.model_copy(update={"reaches": False})]))
    assert (told[0].id, told[0].values["target"]) == ("survey-change.best", 0.9)
    assert all(say_all(told))


@pytest.mark.invariant
def test_the_answer_names_the_greatest_risk(found):
    told = answer(found)
    assert told.id == "survey.risk"
    assert (told.values["position"], told.values["count"]) == ("unlit", 2)


X = RemedyRow(lever="x", before="a", to="b", unit="", probability=0.9, reaches=True)


@pytest.mark.invariant
def test_remedies_are_sought_where_they_are_asked_for(file, monkeypatch):
    asked = []

    def fake(point):
        if point.why:
            asked.append((point.position, point.remedies))
            return {"limits": [], "remedies": [X.to_dict()] if point.remedies else []}
        poor = point.position == "unlit" and point.hour == "worst"
        return {"probability": 0.1 if poor else 1.0, "verdict": "no" if poor else "legible"}

    monkeypatch.setattr(study, "judge_point", fake)
    options = {"trials": 16, "workers": 1, "reach": (), "seed": 2}
    plain = survey(SiteFile.load(file), **options)
    sought = survey(SiteFile.load(file), remedies=True, **options)
    assert asked == [("unlit", False), ("unlit", True)]
    assert (plain.sought, sought.sought) == (False, True)
    assert [row.remedies for row in sought.rows] == [(X,), ()]


@pytest.mark.invariant
def test_an_interrupted_survey_goes_on_without_repeating(file, found, tmp_path, monkeypatch):
    keep, done = tmp_path / "kept.jsonl", []
    real = study.judge_point
    site = SiteFile.load(file)

    def stops(point):
        if len(done) == 3:
            raise KeyboardInterrupt
        done.append(point.key)
        return real(point)

    monkeypatch.setattr(study, "judge_point", stops)
    options = {"trials": 16, "workers": 1, "reach": (0.8,), "why": False, "seed": 2, "keep": keep}
    with pytest.raises(KeyboardInterrupt):
        survey(site, **options)
    again = []
    monkeypatch.setattr(study, "judge_point", lambda p: again.append(p.key) or real(p))
    whole = survey(site, resume=True, **options)
    assert len(again) == 3 and not set(again) & set(done)
    assert [r.worst for r in whole.rows] == [r.worst for r in found.rows]
    with pytest.raises(InputError, match="another survey"):
        survey(site, resume=True, **{**options, "seed": 9})


@pytest.mark.invariant
def test_a_csv_says_the_same(file, tmp_path):
    sets = ";".join(SMALL)
    typical = "natural_light.illuminance_lux=2000;natural_light.spectrum=daylight"
    path = tmp_path / "two-gates.csv"
    path.write_text(
        "name,scene,camera,x_m,y_m,bearing_deg,price,set,typical\n"
        f"lit,{bare('depot-gate-infrared')},plate-2mp-infrared,0,0,90,500,{sets},{typical}\n"
        f"unlit,{bare('depot-gate-dark')},plate-2mp-infrared,30,5,0,,{sets},{typical}\n"
    )
    one, other = SiteFile.load(path).model, SiteFile.load(file).model
    for a, b in zip(one.position, other.position, strict=True):
        for hour in ("worst", "typical"):
            assert one.sets(a, hour) == other.sets(b, hour)
        assert a.model_copy(update={"typical": None}) == b


@pytest.mark.invariant
@pytest.mark.parametrize(
    ("old", "new", "key"),
    [
        ("x_m = 30.0", "x_meters = 30.0", "position.unlit.x_meters"),
        ("bearing_deg = 0.0", "", "position.unlit.bearing_deg"),
        (
            f'scene = "{bare("depot-gate-dark")}"',
            'scene = "depot-gate-drak"',
            "position.unlit.scene",
        ),
        ('name = "unlit"', 'name = "lit"', "position"),
        ("price = 500.0", "price = -1.0", "position.lit.price"),
    ],
)
def test_strict_errors(tmp_path, old, new, key):
    path = tmp_path / "site.toml"
    path.write_text(SITE.replace(old, new))
    with pytest.raises(InputError) as refused:
        SiteFile.load(path)
    assert refused.value.file == str(path)
    assert refused.value.key == key


@pytest.mark.invariant
@pytest.mark.parametrize(
    "text",
    ["name,scene\n", "name,scene,camera,x_m,y_m,bearing_deg,colour\n",
     "name,scene,camera,x_m,y_m,bearing_deg\na,b,c,1,2\n",
     "name,scene,camera,x_m,y_m,bearing_deg\na,depot-gate-dark,plate-2mp-infrared,east,2,0\n"],
)  # fmt: skip
def test_bad_csv(tmp_path, text):
    path = tmp_path / "site.csv"
    path.write_text(text)
    with pytest.raises(InputError) as refused:
        SiteFile.load(path)
    assert refused.value.file == str(path)


@pytest.mark.invariant
def test_a_value_that_a_scene_does_not_know_is_told_with_its_position(file):
    bad = SiteFile.load(file).set({"position.unlit.set": ["natural_light.lux=3"]})
    with pytest.raises(InputError) as refused:
        survey(bad.set({"position.lit": None}))
    assert refused.value.file == str(file)
    assert refused.value.key.startswith("position.unlit (worst hour)")


@pytest.mark.invariant
def test_bundled_sites_can_be_read():
    assert len(SiteFile.load("fruit-depot").model.position) >= 5
    with pytest.raises(InputError, match="no bundled site") as refused:
        SiteFile.load("fruit-depto")
    assert refused.value.fix == "did you mean fruit-depot?"


@pytest.mark.invariant
@pytest.mark.filterwarnings(
    "ignore::ResourceWarning", "ignore::pytest.PytestUnraisableExceptionWarning"
)
def test_a_worker_that_is_killed_loses_nothing(file, found, tmp_path):
    """A real local cluster: one of its two workers is killed while it has a point at work."""
    distributed = pytest.importorskip("distributed")
    keep = tmp_path / "kept.jsonl"
    killed, over = [], threading.Event()
    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None
    ) as cluster:
        pids = {worker.worker_address: worker.pid for worker in cluster.workers.values()}

        def kill():
            while not over.wait(0.02):
                for address, state in list(cluster.scheduler.workers.items()):
                    if state.processing and address in pids:
                        os.kill(pids[address], signal.SIGKILL)
                        killed.append(address)
                        return

        killer = threading.Thread(target=kill)
        killer.start()
        whole = survey(
            SiteFile.load(file), trials=16, reach=(), why=False, seed=2, keep=keep,
            cluster=cluster.scheduler_address,
        )  # fmt: skip
        over.set()
        killer.join()
    assert len(killed) == 1
    assert len(keep.read_text().splitlines()) == 1 + 4
    for a, b in zip(whole.rows, found.rows, strict=True):
        assert (a.worst, a.typical) == (b.worst, b.typical)


@pytest.mark.invariant
def test_a_scheduler_that_does_not_answer_is_told(file):
    pytest.importorskip("distributed")
    with pytest.raises(InputError) as refused:
        survey(SiteFile.load(file), cluster="nonsense://x")
    assert refused.value.argument == "cluster"


@pytest.mark.by_hand
def test_positions_that_make_the_same_file_name_keep_both(found):
    from types import SimpleNamespace

    from simulator.report.survey.words import file_stems

    names = ["gate/1", "gate 1", "GATE-1", "dock", "gate-1-2"]
    rows = [SimpleNamespace(position=SimpleNamespace(name=name)) for name in names]
    stems = file_stems(SimpleNamespace(rows=rows))
    assert stems == ["gate-1", "gate-1-2", "GATE-1-3", "dock", "gate-1-2-2"]
    assert file_stems(found) == ["unlit", "lit"]
