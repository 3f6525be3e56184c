"""What a page may look at, what it may move, and that it reaches no file of this computer."""

from __future__ import annotations

import asyncio
import io
import time
from concurrent.futures import ThreadPoolExecutor

import cv2
import numpy as np
import pytest
from bare import bare
from PIL import Image

from simulator.app.web.answers import CLOSE_COLUMNS, MOST_CLOSE_PX, close_picture
from simulator.app.web.controls import GROUPS, amounts, controls
from simulator.app.web.kept import Kept
from simulator.app.web.lanes import Lanes, OutOfDateError
from simulator.app.web.plan import things
from simulator.app.web.view import View
from simulator.app.web.workspace import Workspace
from simulator.camera.load import Camera
from simulator.errors import InputError
from simulator.files import bundled_names
from simulator.scene.load import Scene
from simulator.scene.radiosity.field import rough
from simulator.studies.overrides import load_pair
from simulator.studies.overview import coarse_picture, glance
from simulator.studies.session import open_session

SMALL = {"sensor.width_px": 640, "sensor.height_px": 360, "sensor.pixel_pitch_um": 6.0}


@pytest.fixture
def workspace():
    made = Workspace()
    yield made
    made.close()


@pytest.mark.invariant
@pytest.mark.parametrize("scene", bundled_names("scenes"))
def test_every_control_sets_what_it_says(scene):
    """Each key is one that the scene or camera takes, at the value it has."""
    camera = Camera.load("fixed-2mp-lowlight")
    loaded = Scene.load(scene)
    found = controls(loaded, camera)
    assert {one.group for one in found} == set(GROUPS)
    assert len({one.key for one in found}) == len(found)
    for one in found:
        if one.value is not None:
            load_pair(loaded, camera, {one.key: one.value})
        if one.scale == "ratio":
            assert 0.0 < one.low < one.high
    assert things(loaded.model)[0]["kind"] == "camera"


@pytest.mark.invariant
def test_the_ends_of_a_slider_stay_while_its_value_moves():
    """Else a key pressed ten times would not be ten steps; beyond the ends they make room."""
    written = load_pair("depot-gate-infrared", "plate-2mp-infrared", {})
    before = {one.key: one for one in controls(*written)}
    for distance, ends in ((25.0, (3.6, 72.0)), (90.0, (3.6, 90.0))):
        moved = load_pair("depot-gate-infrared", "plate-2mp-infrared", {"distance": distance})
        now = {one.key: one for one in controls(*moved, written)}["distance"]
        assert (now.low, now.high) == pytest.approx(ends)
        assert now.value == pytest.approx(distance, abs=0.2)
    assert (before["distance"].low, before["distance"].high) == pytest.approx((3.6, 72.0))


@pytest.mark.invariant
@pytest.mark.parametrize(
    "given",
    [
        None, [], {"scene": 3}, {"scene": "../../etc/passwd"}, {"scene": "/etc/passwd"},
        {"camera": "x.toml"}, {"changes": []}, {"changes": {"lux": "../a"}}, {"seed": -1},
        {"seed": "1"}, {"scene_text": "x" * 500_000},
        {"changes": {"surface.p": {"kind": "photograph", "file": "/etc/passwd"}}},
        {"changes": {"illuminator.mast infrared.use": "..\\\\secret.toml"}},
    ],
)  # fmt: skip
def test_what_is_no_view_is_refused(given):
    with pytest.raises(InputError):
        View.of(given)


@pytest.mark.invariant
@pytest.mark.parametrize("name", ["/etc/hostname", "../secret.csv", "a/b.csv", "c:\\\\x.csv"])
def test_a_file_of_the_page_names_nothing_outside_its_folder(name, workspace):
    text = Scene.load("depot-gate-infrared").to_toml().replace('"asphalt"', f"'{name}'")
    with pytest.raises(InputError):
        View.of({"scene_text": text}).opened(workspace.folder)


@pytest.mark.invariant
def test_a_view_is_what_its_changes_say(workspace):
    view = View.of({"changes": {"lux": 3.0, "shutter": 0.002, "text": "A1B2 C3D"}})
    scene, camera = view.opened(workspace.folder)
    assert scene.model.natural_light.illuminance_lux == 3.0
    assert camera.model.exposure.shutter_s == 0.002
    assert scene.model.target[0].text == "A1B2 C3D"
    assert view.key != View.of({}).key == View().key


@pytest.mark.invariant
def test_files_are_taken_checked_and_bounded(workspace):
    gate = Scene.load("depot-gate-infrared")
    taken = workspace.take("scene", "C:\\\\mine\\\\gate.toml", gate.to_toml().encode())
    assert taken["told"] == gate.model.title
    for kind, body in (
        ("scene", b"\xff\xfe"), ("scene", b"not = toml = at all"), ("camera", b"a = 1"),
        ("photo", b"no picture"), ("light", b"IESNA:LM-63-2002"), ("other", b""),
        ("scene", b"#" * 500_000),
    ):  # fmt: skip
        with pytest.raises(InputError):
            workspace.take(kind, "x", body)
    out = io.BytesIO()
    Image.fromarray(np.zeros((20, 40, 3), np.uint8)).save(out, "PNG")
    photo = workspace.take("photo", "site.png", out.getvalue())
    with pytest.raises(InputError, match="empty"):
        workspace.take("camera", "a.toml", b" \n")
    deep = cv2.imencode(".png", np.zeros((20, 40, 3), np.uint16))[1].tobytes()
    with pytest.raises(InputError, match="8 bits"):
        workspace.take("photo", "deep.png", deep)
    assert (workspace.folder / photo["file"]).is_file() and photo["shape"] == 0.5
    assert [path.name for path in workspace.folder.iterdir()] == [photo["file"]]


@pytest.mark.invariant
def test_a_dimmed_light_is_weighed_anew_and_answers_as_a_fresh_session(workspace):
    kept = Kept()
    key = "illuminator.mast infrared.radiant_intensity_w_per_sr"
    assert key in amounts(Scene.load("depot-gate-infrared").model)
    with kept.session(View.of({"changes": SMALL}), workspace.folder):
        pass
    view = View.of({"changes": {**SMALL, key: 2.0, "lux": 0.5}})
    with kept.session(view, workspace.folder) as at:
        assert len(kept) == 1 and at.strengths
        exposure = at.state.exposure
    fresh = open_session(*view.opened(workspace.folder)).state.exposure
    assert exposure.gain_db == pytest.approx(fresh.gain_db, abs=0.2)
    assert exposure.shutter_s == pytest.approx(fresh.shutter_s, rel=0.02)


@pytest.mark.invariant
def test_pages_that_ask_at_once_get_their_own_answers(workspace):
    """Three pages with other views at the same time, two of them of one session: each sees what it
    sees alone, within the rounding of light that is weighed anew."""
    views = [View.of({"changes": {**SMALL, "lux": lux}}) for lux in (0.5, 50.0)]
    views.append(View.of({"camera": "plate-2mp-infrared", "changes": SMALL}))

    def seen(kept, view):
        with kept.session(view, workspace.folder) as at:
            return coarse_picture(at, 160).astype(float), at.state.exposure.gain_db

    shared = Kept()
    with ThreadPoolExecutor(3) as pool:
        together = list(pool.map(lambda view: seen(shared, view), views * 2))
    for (picture, gain_db), view in zip(together, views * 2, strict=True):
        alone, own_db = seen(Kept(), view)
        assert gain_db == pytest.approx(own_db, abs=0.01)
        assert np.abs(picture - alone).mean() < 0.05
    assert np.abs(together[0][0] - together[1][0]).mean() > 2.0


@pytest.mark.invariant
def test_few_sessions_are_kept(workspace):
    kept = Kept(most=2)
    for seed in range(5):
        with kept.session(View.of({"seed": seed, "changes": SMALL}), workspace.folder):
            assert len(kept) <= 2


@pytest.mark.invariant
def test_sessions_are_bounded_by_bytes_together(workspace):
    """The one asked for last stays, however large; the others go where all are too large."""
    kept = Kept(most=3, most_bytes=1000)
    for lux in (0.5, 5.0):
        for camera in ("fixed-2mp-lowlight", "plate-2mp-infrared"):
            view = View.of({"camera": camera, "changes": {**SMALL, "lux": lux}})
            with kept.session(view, workspace.folder) as at:
                assert at.target is not None
            assert len(kept) == 1


@pytest.mark.invariant
@pytest.mark.parametrize(
    "change",
    [{"lux": 3.0}, {"shutter": 0.004}, {"illuminator.mast infrared.radiant_intensity_w_per_sr": 3}],
)
def test_a_light_or_shutter_is_weighed_and_shows_what_a_fresh_look_shows(workspace, change):
    """Layers of single lights add up to the picture of all, within a level or so."""
    kept, fresh = Kept(), Kept()
    for changes in (SMALL, {**SMALL, **change}):
        view = View.of({"changes": changes})
        with kept.session(view, workspace.folder) as at:
            weighed = coarse_picture(at, 160).astype(float)
    with fresh.session(view, workspace.folder) as at:
        traced = coarse_picture(at, 160).astype(float)
    assert len(kept) == 1
    assert np.abs(weighed - traced).mean() < 0.5
    assert np.median(np.abs(weighed - traced)) <= 1.0


@pytest.mark.invariant
@pytest.mark.parametrize(
    "change",
    [{"lens": 18.0}, {"distance": 12.0}, {"height": 2.5}, {"camera": "plate-2mp-infrared"}],
)
def test_a_first_glance_shows_what_the_coarse_picture_shows(workspace, change):
    """Under bounced light of the places before, metered coarsely and in the mode before: what is
    direct, and where all stands, are those of now."""
    kept = Kept()
    with kept.session(View.of({"changes": SMALL}), workspace.folder) as at:
        before = coarse_picture(at, 160).astype(float)
    other = change if "camera" in change else {"changes": {**SMALL, **change}}
    view = View.of({"changes": SMALL, **other})
    first = kept.glance(view, workspace.folder)
    assert first is not None
    assert (first.mode == "night") == ("camera" not in change)  # another may choose otherwise
    with rough():
        seen = glance(first, 160).picture.astype(float)
    with kept.session(view, workspace.folder) as at:
        coarse = coarse_picture(at, 160).astype(float)
    assert kept.glance(view, workspace.folder) is None  # its own session answers as soon
    off, moved = np.abs(seen - coarse).mean(), np.abs(before - coarse).mean()
    assert off < 4.0 and off < 0.3 * moved
    assert np.median(np.abs(seen - coarse)) <= 1.0


@pytest.mark.invariant
def test_no_glance_where_nothing_like_it_was_seen(workspace):
    """Neither of another scene, nor of one with one more thing in it; and where lights differ the
    camera chooses its mode anew."""
    kept = Kept()
    assert kept.glance(View.of({"changes": SMALL}), workspace.folder) is None
    with kept.session(View.of({"changes": SMALL}), workspace.folder) as at:
        assert at.state.mode == "night"
    other = View.of({"scene": "yard-noon", "changes": SMALL})
    assert kept.glance(other, workspace.folder) is None
    lamp = {
        "spectrum": "led-4000k", "intensity_cd": 800, "beam_deg": 110, "position_m": [2, 8, 4],
        "aim_m": [2, 8, 0],
    }  # fmt: skip
    more = View.of({"changes": {**SMALL, "lamp.new": lamp}})
    assert kept.glance(more, workspace.folder) is None
    bright = kept.glance(
        View.of({"changes": {**SMALL, "lens": 12.0, "lux": 5000}}), workspace.folder
    )
    assert bright is not None and bright.mode is None
    with rough():
        assert glance(bright, 160).state.mode == "day"


@pytest.mark.invariant
def test_a_target_that_fills_the_picture_is_shown_on_larger_pixels():
    camera = Camera.load("plate-2mp-infrared").set({"stream.codec": "none"})
    at = open_session(bare("doorway-noon"), camera)
    x0, y0, x1, y1 = at.target.box_px
    assert (x1 - x0) * (y1 - y0) > MOST_CLOSE_PX
    picture = close_picture(at)
    assert 40 < picture.shape[1] <= CLOSE_COLUMNS and picture.std() > 5.0


@pytest.mark.invariant
def test_the_coarse_picture_is_the_whole_one_made_smaller():
    """Levels of the coarse picture are those of the whole one averaged over its large pixels."""
    scene, camera = load_pair("yard-noon", "fixed-2mp-lowlight", SMALL)
    at = open_session(scene, camera)
    coarse = coarse_picture(at, 160)
    assert coarse.shape == (90, 160, 3)
    whole = coarse_picture(at, 640)
    averaged = whole.reshape(90, 4, 160, 4, 3).mean(axis=(1, 3))
    assert abs(float(coarse.mean()) - float(averaged.mean())) < 2.0
    assert np.median(np.abs(coarse - averaged)) < 6.0


@pytest.mark.invariant
def test_work_that_is_out_of_date_is_not_begun():
    lanes, begun = Lanes(quick=1, slow=1), []

    def work(name):
        begun.append(name)
        time.sleep(0.02)
        return name

    async def ask():
        asked = []
        for k in range(6):
            ticket = lanes.ticket("page")
            asked.append(lanes.run(lanes.quick, ticket, lambda k=k: work(k)))
        other = lanes.run(lanes.slow, lanes.ticket("another page"), lambda: work("other"))
        return await asyncio.gather(*asked, other, return_exceptions=True)

    found = asyncio.run(ask())
    lanes.close()
    assert found[5:] == [5, "other"]
    assert all(isinstance(one, OutOfDateError) for one in found[:5])
    assert set(begun) == {5, "other"}
