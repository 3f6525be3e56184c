"""The workbench in a real browser: skipped where none is found."""

from __future__ import annotations

import os
import subprocess
import sys
import zipfile
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from workbench_page import DONE_MS, SMALL, box_of, changes, opened, reached, shown, until

import simulator

pytest.importorskip("playwright", reason='needs Playwright: pip install "nightproof[test]"')
pytestmark = pytest.mark.invariant
ROOT = Path(simulator.__file__).parents[1]


def test_a_view_is_opened_moved_undone_and_shared(page, server, browser):
    opened(page, server)
    assert page.locator("#word").get_attribute("data-word") in (
        "legible", "marginal", "not legible",
    )  # fmt: skip
    before = page.locator("#now").get_attribute("src")
    assert "can the plate" in page.locator("#question").inner_text().lower()
    # a slider by its keys, and an exact figure
    slider = page.locator("#control-distance")
    slider.focus()
    page.keyboard.press("PageDown")
    until(page, "location.hash.includes('distance')")
    page.locator("[data-key='gain'] input[type=number]").fill("12")
    page.keyboard.press("Tab")
    reached(page, "proved")
    after = page.locator("#now").get_attribute("src")
    assert after != before
    address = page.evaluate("location.href")
    assert "%22gain%22%3A12" in address
    # the same address in another window is the same view
    other = browser.new_context().new_page()
    other.goto(address)
    reached(other, "proved")
    assert other.locator("#now").get_attribute("src") == after
    other.context.close()
    page.locator("#undo").click()
    page.locator("#undo").click()
    reached(page, "proved")
    assert page.locator("#now").get_attribute("src") == before
    assert page.locator("#undo").is_disabled()
    page.keyboard.press("Control+Shift+Z")
    until(page, "location.hash.includes('distance')")


def test_pictures_are_compared_with_a_wipe(page, server):
    opened(page, server)
    page.locator("#hold").click()
    held = page.locator("#held").get_attribute("src")
    page.locator("#control-mode").select_option("day")
    reached(page, "proved")
    assert page.locator("#now").get_attribute("src") != held
    page.locator("#wipe").fill("25")
    clip = page.locator("#held").evaluate("(one) => getComputedStyle(one).clipPath")
    assert "75%" in clip
    page.locator("#release").click()
    assert page.locator("#held").is_hidden()
    page.locator("#budget").click()
    until(page, "document.querySelectorAll('#budget-told table').length === 3")
    assert "electrons" in page.locator("#budget-told p").first.inner_text()
    # a bar for each step, as long as what it leaves: none grows by a factor below one
    factors = page.locator("#budget-told table").first.locator("td:nth-child(3)").all_inner_texts()
    widths = page.evaluate("[...document.querySelectorAll('.fall i')].map(i => i.offsetWidth)")
    assert len(widths) == len(factors) > 5 and max(widths) > 40
    for k, factor in enumerate(factors[1:], 1):
        if factor.startswith("× 0."):
            assert widths[k] <= widths[k - 1]


def test_files_are_opened_refused_saved_and_exported(page, server, tmp_path):
    opened(page, server)
    page.locator("#files summary").click()
    (tmp_path / "bad.toml").write_text("title = ")
    page.locator("#open-file").set_input_files(tmp_path / "bad.toml")
    page.locator("#refusal").wait_for(state="visible")
    assert "fix" in page.locator("#refusal").inner_text()
    with page.expect_download() as saved:
        page.locator("[data-save=scene]").click()
    saved.value.save_as(tmp_path / "gate.toml")
    page.locator("#open-file").set_input_files(tmp_path / "gate.toml")
    until(page, "location.hash.includes('scene-file')")
    assert page.locator("#scene").input_value() == "gate"
    Image.fromarray(np.full((40, 60, 3), 90, np.uint8)).save(tmp_path / "capture.png")
    page.locator("#open-kind").select_option("capture")
    page.locator("#open-file").set_input_files(tmp_path / "capture.png")
    page.locator("#held").wait_for(state="visible")
    assert "another shape" in page.locator("#held-told").inner_text()
    (tmp_path / "torn.png").write_bytes((tmp_path / "capture.png").read_bytes()[:40])
    for bad in ("torn.png", "gate.toml"):
        page.locator("#open-file").set_input_files(tmp_path / bad)
        page.locator("#refusal").wait_for(state="visible")
        assert "PNG or JPEG" in page.locator("#refusal").inner_text()
        assert "capture.png" in page.locator("#held-told").inner_text()
    with page.expect_download(timeout=DONE_MS) as exported:
        page.locator("[data-export=budget]").click()
    exported.value.save_as(tmp_path / "budget.zip")
    with zipfile.ZipFile(tmp_path / "budget.zip") as pack:
        assert any(name.endswith("budget.csv") for name in pack.namelist())


def test_things_are_added_and_moved_on_the_plan(page, server):
    opened(page, server, state="coarse")
    plan = page.locator("#plan")
    plan.scroll_into_view_if_needed()
    page.locator("#add").click()
    box = plan.bounding_box()
    page.mouse.click(box["x"] + 0.5 * box["width"], box["y"] + 0.3 * box["height"])
    until(page, "location.hash.includes('lamp.lamp')")
    page.locator("[data-id='lamp lamp']").wait_for()
    before = page.locator("#place input").nth(1).input_value()
    page.locator("[data-id='lamp lamp']").focus()
    page.keyboard.press("ArrowRight")
    page.keyboard.press("Shift+ArrowRight")
    until(page, "location.hash.includes('lamp.lamp.position_m')")
    assert float(page.locator("#place input").nth(1).input_value()) - float(before) > 1.0
    page.locator("#away").click()
    until(page, "!location.hash.includes('lamp.lamp')")
    # the camera is aimed by the ring on the plan, which keeps the focus when the answer comes
    page.locator("[data-id='camera']").focus()
    page.locator("[data-id='aim camera']").focus()
    page.keyboard.press("ArrowRight")
    until(page, "location.hash.includes('station.aim_m')")
    ring = box_of(page, ".ring")
    x, y = ring["x"] + ring["width"] - 1, ring["y"] + 0.5 * ring["height"]
    reached(page, "coarse")
    assert page.evaluate("document.activeElement.dataset.id") == "aim camera"
    aim = page.evaluate(
        "JSON.parse(new URLSearchParams(location.hash.slice(1)).get('set'))['station.aim_m']"
    )
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + 5, y, steps=2)
    page.mouse.up()
    then = page.evaluate(
        "JSON.parse(new URLSearchParams(location.hash.slice(1)).get('set'))['station.aim_m']"
    )
    assert then[1] > aim[1] and then[2] == aim[2]


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_it_is_accessible(page, server, theme):
    """The rules of axe-core for WCAG 2.1 AA (contrast, names, labels), at a desk and on a phone."""
    axe = pytest.importorskip("axe_playwright_python.sync_playwright")
    page.emulate_media(color_scheme=theme)
    opened(page, server, state="proved")
    for size in ({"width": 1400, "height": 950}, {"width": 390, "height": 844}):
        page.set_viewport_size(size)
        found = axe.Axe().run(page, options={"runOnly": ["wcag2a", "wcag2aa", "wcag21aa"]})
        assert found.response["violations"] == [], found.generate_report()
        wide = page.evaluate("document.documentElement.scrollWidth")
        assert wide <= size["width"], f"{wide} px on a page of {size['width']}"


def test_a_fix_is_found_applied_and_undone(page, server):
    """A fast plate under a long shutter: what helps is found, and one click away."""
    opened(page, server, {**SMALL, "speed": 60, "shutter": 0.02})
    assert page.locator("#word").get_attribute("data-word") != "legible"
    before = changes(page)
    page.locator("#seek").click()
    assert page.locator("#seek").is_disabled()
    until(page, "!document.getElementById('seek').disabled")
    apply = page.locator("#fixes button").first
    assert apply.get_attribute("aria-label").startswith("Apply: ")
    apply.click()
    shown(page)
    assert changes(page) != before
    page.locator("#undo").click()
    until(page, "document.getElementById('undo').disabled")
    shown(page)
    assert changes(page) == before
    # a change while it looks lets it be asked again
    page.locator("#seek").click()
    page.locator("[data-key='gain'] input[type=number]").fill("6")
    page.keyboard.press("Tab")
    until(page, "!document.getElementById('seek').disabled")


def test_strips_show_the_target_in_other_light_and_on_its_way(page, server):
    opened(page, server, {**SMALL, "speed": 20}, state="closer")
    page.locator("#fall").click()
    until(page, "document.querySelectorAll('#falling img').length === 7")
    page.locator("#pass").click()
    until(page, "document.querySelectorAll('#passing img').length >= 3")
    distances = [float(text.split()[0]) for text in page.locator("#passing b").all_inner_texts()]
    assert distances == sorted(distances, reverse=True)  # it comes nearer


def test_good_and_bad_lamps_and_photographs_are_opened(page, server, tmp_path):
    opened(page, server, state="coarse")
    page.locator("#files summary").click()
    (tmp_path / "lamp.ies").write_text(
        "IESNA:LM-63-2002\nTILT=NONE\n1 1000 1 3 1 1 2 0 0 0\n1 1 10\n0 45 90\n0\n500 300 10\n"
    )
    (tmp_path / "bad.ies").write_text("IESNA:LM-63-2002\nTILT=NONE\n1 1000\n")
    page.locator("#open-kind").select_option("light")
    page.locator("#open-file").set_input_files(tmp_path / "bad.ies")
    page.locator("#refusal").wait_for(state="visible")
    assert "Line 3" in page.locator("#refusal").inner_text()
    page.locator("#open-file").set_input_files(tmp_path / "lamp.ies")
    until(page, "location.hash.includes('photometry')")
    shown(page)
    page.locator("#open-kind").select_option("photo")
    (tmp_path / "bad.png").write_bytes(b"\x89PNG\r\n\x1a\nno picture")
    page.locator("#open-file").set_input_files(tmp_path / "bad.png")
    page.locator("#refusal").wait_for(state="visible")
    Image.fromarray(np.full((40, 60, 3), 90, np.uint8)).save(tmp_path / "site.png")
    page.locator("#open-file").set_input_files(tmp_path / "site.png")
    until(page, "document.getElementById('status').textContent.startsWith('Choose the place')")
    page.locator("#plan").scroll_into_view_if_needed()
    box = page.locator("#plan").bounding_box()
    page.mouse.click(box["x"] + 0.5 * box["width"], box["y"] + 0.3 * box["height"])
    until(page, "location.hash.includes('photograph')")


def test_a_token_opens_the_page_to_others(browser):
    """`--host` prints an address with its token; without it, nothing is told."""
    code = "from simulator.app.cli import main; main()"
    with subprocess.Popen(
        [sys.executable, "-c", code, "web", "--host", "0.0.0.0", "--port", "0", "--no-open"],
        cwd=ROOT, env={**os.environ, "PYTHONPATH": str(ROOT)}, stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT, text=True,
    ) as process:  # fmt: skip
        assert process.stdout is not None
        address = process.stdout.readline().split(": ", 1)[1].strip()
        place, token = address.split("#")[0].split("?token=")
        local = f"http://127.0.0.1:{place.rstrip('/').rsplit(':', 1)[1]}/"
        page = browser.new_context().new_page()
        assert page.goto(local).status == 401
        assert page.goto(f"{local}?token={token[:-1]}").status == 401
        assert page.goto(f"{local}?token={token}").status == 200
        until(page, "globalThis.workbench?.state === 'coarse'")  # the cookie goes with all else
        assert token not in page.evaluate("document.documentElement.outerHTML")
        page.context.close()
        process.terminate()
        process.stdout.read()
