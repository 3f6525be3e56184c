"""Several pages of the workbench at once, links between them, and captures, in a real browser."""

from __future__ import annotations

import io

import cv2
import numpy as np
import pytest
from PIL import Image
from workbench_page import SMALL, changes, opened, reached, until

pytest.importorskip("playwright", reason='needs Playwright: pip install "nightproof[test]"')
pytestmark = pytest.mark.invariant


def answered(page):
    """What a page shows of its answer."""
    return (
        page.locator("#now").get_attribute("src"),
        page.locator("#word").inner_text(),
        page.locator("#probability").inner_text(),
        page.locator("#exposure").inner_text(),
        page.locator("#origin").inner_text(),
    )


def test_two_people_at_once_each_see_their_own(page, server, browser):
    """Both move at once, other settings of one scene; each ends with what a lone page shows."""
    other = browser.new_context(viewport={"width": 1400, "height": 950}).new_page()
    opened(page, server, state="coarse")
    opened(other, server, {**SMALL, "gain": 6}, state="coarse")
    both = {page: ("20", "5"), other: ("14", "40")}
    for step in range(2):
        for one, figures in both.items():
            one.locator("[data-key='distance'] input[type=number]").fill(figures[0])
            one.keyboard.press("Enter")
        for one, figures in both.items():
            one.locator("[data-key='lux'] input[type=number]").fill(figures[step])
            one.keyboard.press("Enter")
            one.locator("#control-gain").focus()
            one.keyboard.press("ArrowLeft")
    for one in both:
        reached(one, "proved")
    first, second = answered(page), answered(other)
    assert first[0] != second[0]
    assert changes(page)["distance"] == 20 and changes(other)["distance"] == 14
    assert changes(page)["lux"] == 5 and changes(other)["lux"] == 40
    for one, found in zip(both, (first, second), strict=True):
        lone = browser.new_context(viewport={"width": 1400, "height": 950}).new_page()
        lone.goto(one.evaluate("location.href"))
        reached(lone, "proved")
        assert answered(lone) == found
        lone.context.close()
    other.context.close()


def test_a_link_holds_opened_files_and_outlives_a_reload(page, server, browser, tmp_path):
    page.context.grant_permissions(["clipboard-read", "clipboard-write"])
    opened(page, server, state="coarse")
    page.locator("#files summary").click()
    with page.expect_download() as saved:
        page.locator("[data-save=camera]").click()
    saved.value.save_as(tmp_path / "mine.toml")
    page.locator("#open-kind").select_option("camera")
    page.locator("#open-file").set_input_files(tmp_path / "mine.toml")
    until(page, "location.hash.includes('camera-file')")
    page.locator("[data-key='gain'] input[type=number]").fill("9")
    page.keyboard.press("Enter")
    until(page, "location.hash.includes('gain')")
    page.locator("#copy").click()
    until(page, "document.getElementById('status').textContent.startsWith('The link is copied')")
    link = page.evaluate("navigator.clipboard.readText()")
    assert link == page.evaluate("location.href")
    reached(page, "proved")
    here = answered(page)
    page.reload()
    reached(page, "proved")
    assert answered(page) == here
    assert page.locator("#camera").input_value() == "mine"
    elsewhere = browser.new_context().new_page()
    elsewhere.goto(link)
    reached(elsewhere, "proved")
    assert answered(elsewhere) == here
    elsewhere.context.close()


def test_undo_and_redo_go_through_every_step(page, server):
    opened(page, server, state="coarse")
    begun = changes(page)
    states = [begun]
    for key, figure in (("lux", "7"), ("distance", "15"), ("gain", "12")):
        page.locator(f"[data-key='{key}'] input[type=number]").fill(figure)
        page.keyboard.press("Enter")
        until(page, f"decodeURIComponent(location.hash).includes('\"{key}\":{figure}')")
        states.append(changes(page))
    for state in reversed(states[:-1]):
        page.locator("#undo").click()
        page.evaluate("new Promise(done => setTimeout(done, 50))")
        assert changes(page) == state
    assert page.locator("#undo").is_disabled()
    for state in states[1:]:
        page.locator("#redo").click()
        page.evaluate("new Promise(done => setTimeout(done, 50))")
        assert changes(page) == state
    assert page.locator("#redo").is_disabled()
    reached(page, "closer")
    assert page.locator("[data-key='distance'] input[type=number]").input_value() == "15"


def sixteen_bits():
    """A PNG of 16 bits a channel."""
    levels = np.linspace(0, 65_535, 640).astype(np.uint16)
    return cv2.imencode(".png", np.tile(levels, (360, 1)))[1].tobytes()


def test_a_capture_of_sixteen_bits_is_refused_with_its_reason(page, server, tmp_path):
    """A browser would cut its levels to 8 bits without a word, and nothing says by what curve."""
    opened(page, server, state="coarse")
    page.locator("#files summary").click()
    page.locator("#open-kind").select_option("capture")
    (tmp_path / "deep.png").write_bytes(sixteen_bits())
    page.locator("#open-file").set_input_files(tmp_path / "deep.png")
    page.locator("#refusal").wait_for(state="visible")
    told = page.locator("#refusal").inner_text()
    assert "more than 8 bits a channel" in told and "deep.png" in told and "fix:" in told
    assert page.locator("#held").is_hidden()
    assert page.get_by_role("button", name="Undo the last change").count() == 0  # nothing changed
    page.get_by_role("button", name="Close").click()
    assert page.locator("#refusal").is_hidden()
    with Image.open(io.BytesIO(sixteen_bits())) as picture:
        picture.point(lambda level: level / 256).convert("L").save(tmp_path / "plain.png")
    page.locator("#open-file").set_input_files(tmp_path / "plain.png")
    page.locator("#held").wait_for(state="visible")
    assert page.locator("#held-told").inner_text() == "A: plain.png"
