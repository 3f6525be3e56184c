"""The questions of the page, asked without a browser."""

from __future__ import annotations

import asyncio
import json

import httpx
import pytest

from simulator.app.web.server import STATIC, Workbench, application
from simulator.app.web.workspace import Workspace
from simulator.camera.load import Camera
from simulator.scene.load import Scene

SMALL = {"sensor.width_px": 640, "sensor.height_px": 360, "sensor.pixel_pitch_um": 6.0}
ORIGIN = {"origin": "http://localhost"}


class Client:
    """Asks the application itself, without a network."""

    def __init__(self, app):
        self.transport = httpx.ASGITransport(app)

    def request(self, method, path, **parts):
        async def ask():
            async with httpx.AsyncClient(
                transport=self.transport, base_url="http://localhost", headers=ORIGIN
            ) as client:
                return await client.request(method, path, **parts)

        return asyncio.run(ask())

    def get(self, path):
        return self.request("GET", path)

    def post(self, path, **parts):
        return self.request("POST", path, **parts)


@pytest.fixture(scope="module")
def client():
    bench = Workbench(Workspace())
    yield Client(application(bench))
    bench.close()


def steps(answer):
    return {row["step"]: row for row in map(json.loads, answer.text.splitlines())}


@pytest.mark.invariant
def test_an_answer_comes_step_by_step(client):
    view = {"camera": "plate-2mp-infrared", "changes": {**SMALL, "speed": 0, "lux": 1000}}
    asked = {"page": "one", "view": view}
    found = steps(client.post("/answer", json=asked))
    assert list(found) == ["opened", "coarse", "look", "closer", "counted", "pictured", "proved"]
    proved = found["proved"]
    for step, known in (
        ("counted", ("probability", "low", "high")),
        ("pictured", ("picture", "target")),
    ):
        for what in known:  # before its limits are
            assert found[step][what] == proved[what]
    assert 0.0 <= proved["low"] <= proved["probability"] <= proved["high"] <= 1.0
    assert proved["picture"].startswith("data:image/png;base64,")
    assert found["coarse"]["target"] == pytest.approx(proved["target"], abs=0.01)


@pytest.mark.invariant
def test_what_is_wrong_is_told_with_its_fix(client):
    for changes in ({"speed": -3}, {"sped": 3}, {"distance": 0}):
        found = steps(client.post("/answer", json={"view": {"changes": changes}}))
        assert list(found)[-1] == "refused"
        assert found["refused"]["problem"] and found["refused"]["given"] is not None
        assert "/" not in (found["refused"]["problem"])
    assert client.post("/answer", content=b"{").status_code == 400
    assert client.post("/answer", json=[1]).status_code == 400
    assert client.post("/answer", json={"view": {"scene": "../x"}}).status_code == 400


@pytest.mark.invariant
def test_files_are_saved_as_they_load(client):
    view = {"changes": {"lux": 7.0, "gain": 20.0}}
    scene = client.post("/file", json={"view": view, "what": "scene"})
    assert Scene.from_toml(scene.text).model.natural_light.illuminance_lux == 7.0
    camera = client.post("/file", json={"view": view, "what": "camera"})
    assert Camera.from_toml(camera.text).model.exposure.gain_max_db == 20.0
    assert 'filename="fixed-2mp-lowlight.toml"' in camera.headers["content-disposition"]


@pytest.mark.invariant
def test_good_files_open_and_bad_ones_are_refused(client):
    gate = Scene.load("yard-noon").to_toml().encode()
    good = client.post("/open?kind=scene&name=yard.toml", content=gate)
    assert good.status_code == 200 and good.json()["name"] == "yard"
    bad = client.post("/open?kind=scene&name=yard.toml", content=gate[:200] + b'x = "')
    assert bad.status_code == 400 and bad.json()["problem"]
    assert client.post("/open?kind=photo&name=a", content=b"x" * 13_000_000).status_code == 413


@pytest.mark.invariant
def test_a_scene_is_built_from_nothing(client):
    made = client.post("/new", json={"light": "town-night"}).json()
    assert "[[target]]" in made["text"]
    changes = {"lamp.new": {
        "spectrum": "led-4000k", "intensity_cd": 800, "beam_deg": 110, "position_m": [2, 8, 4],
        "aim_m": [2, 8, 0],
    }}  # fmt: skip
    view = {"scene": "mine", "scene_text": made["text"], "changes": changes}
    saved = client.post("/file", json={"view": view, "what": "scene"})
    assert "new" in [lamp.name for lamp in Scene.from_toml(saved.text).model.lamp]
    assert client.post("/new", json={"light": "no such light"}).status_code == 400


@pytest.mark.invariant
def test_the_page_asks_nothing_from_elsewhere(client):
    for path in sorted(STATIC.iterdir()):
        text = path.read_text(encoding="utf-8").replace("http://www.w3.org/2000/svg", "")
        assert "http://" not in text and "https://" not in text and "@import" not in text, path.name
        assert client.get(f"/static/{path.name}").status_code == 200
    assert client.get("/static/..%2Fserver.py").status_code == 404
    assert client.get("/static/../server.py").status_code == 404
    assert client.get("/").headers["content-security-policy"].startswith("default-src 'none'")
