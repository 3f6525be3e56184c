"""What the tests of the workbench do on its page, in a real browser."""

from __future__ import annotations

import json
import shutil
import time
from urllib.parse import quote

BROWSER = next(filter(None, map(shutil.which, ("chromium", "chromium-browser"))), None)
QUIET = (
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
)  # fmt: skip
SMALL = {
    "sensor.width_px": 640, "sensor.height_px": 360, "sensor.pixel_pitch_um": 6.0, "speed": 0,
    "lux": 1000,
}  # fmt: skip
"""A small sensor, and light enough to read by, so that the proof comes soon."""
DONE_MS = 300_000


def is_own(address):
    return address.startswith(("http://127.0.0.1:", "data:", "blob:"))


def opened(page, server, changes=SMALL, state="proved"):
    page.goto(
        f"{server}#scene=depot-gate-infrared&camera=plate-2mp-infrared&set={quote(json.dumps(changes))}"
    )
    reached(page, state)


STEPS = ("coarse", "look", "closer", "counted", "pictured", "proved")
"""States of a page, one after the other."""


def reached(page, state):
    """Waits until the answer has come to a step, or past it."""
    until(page, f"{list(STEPS[STEPS.index(state) :])}.includes(globalThis.workbench?.state)")


def shown(page):
    """Waits until the newest view has a picture, coarse or whole."""
    reached(page, "coarse")


def until(page, condition):
    """Waits until a condition holds; the page forbids `eval`, which Playwright's own wait takes."""
    end = time.monotonic() + DONE_MS / 1000.0
    while not page.evaluate(condition):
        assert time.monotonic() < end, condition
        page.wait_for_timeout(25)


def changes(page):
    """What the address says was changed."""
    told = "new URLSearchParams(location.hash.slice(1)).get('set')"
    return json.loads(page.evaluate(told))


def box_of(page, selector):
    """Where something is, looked at in one step: what is drawn again on the way is not missed."""
    seen = page.wait_for_function(
        """selector => {
            const box = document.querySelector(selector)?.getBoundingClientRect();
            return box?.width ? {x: box.x, y: box.y, width: box.width, height: box.height} : null;
        }""",
        arg=selector,
    )
    return seen.json_value()
