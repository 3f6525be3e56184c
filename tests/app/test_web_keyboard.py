"""The workbench by keyboard alone, and as a screen reader is told of it, in a real browser."""

from __future__ import annotations

import pytest
from workbench_page import changes, opened, reached, shown, until

pytest.importorskip("playwright", reason='needs Playwright: pip install "nightproof[test]"')
pytestmark = pytest.mark.invariant
SIZES = {"desk": (1400, 950), "phone": (390, 844)}
PARTS = ("header", ".camera-part", ".answer-part", ".control-part", ".plan-part", ".more-part")
"""Parts of the page in the order in which the Tab key comes to them."""
REACHABLE = """() => [...document.querySelectorAll(
    'a[href], button, input, select, summary, [tabindex="0"]')]
    .filter(one => !one.disabled && one.checkVisibility() && one.getBoundingClientRect().width)
    .filter(one => !one.closest('.aim-handle, details:not([open]) > :not(summary)'))
    .map(one => one.id || one.dataset.id?.padStart(40) || one.ariaLabel || one.textContent)"""
FOCUSED = """() => {
    const one = document.activeElement;
    if (one === document.body) return null;
    const box = one.getBoundingClientRect(), style = getComputedStyle(one);
    const halo = one.querySelector?.('.halo, .ring');
    const at = document.elementFromPoint(box.x + box.width / 2, box.y + box.height / 2);
    return {
        id: one.id || one.dataset.id?.padStart(40) || one.ariaLabel || one.textContent,
        part: PARTS.find(name => one.closest(name)) ?? '',
        ring: style.outlineStyle !== 'none' ? parseFloat(style.outlineWidth)
            : halo ? parseFloat(getComputedStyle(halo).strokeWidth) : 0,
        seen: Boolean(at) && (one.contains(at) || at.contains(one)
            || [...(one.labels ?? [])].some(label => label.contains(at))
            || one.ownerSVGElement === (at.ownerSVGElement ?? at))
            && box.top >= -1 && box.bottom <= innerHeight + 1,
    };
}""".replace("PARTS", str(list(PARTS)))


@pytest.fixture
def lit(page, server):
    """A page that shows its first whole look."""
    opened(page, server, state="closer")
    return page


def walked(page):
    """What has the focus from the first link on after each press of the Tab key, to the end."""
    page.locator("#skip").focus()
    out = [page.evaluate(FOCUSED)]
    for _ in range(150):
        page.keyboard.press("Tab")
        now = page.evaluate(FOCUSED)
        if now is None or now["id"] == "skip":
            return out
        out.append(now)
    raise AssertionError("the Tab key does not come to an end")


@pytest.mark.parametrize("size", SIZES)
def test_the_tab_key_reaches_everything_in_order(page, server, size):
    page.set_viewport_size(dict(zip(("width", "height"), SIZES[size], strict=True)))
    opened(page, server)
    page.locator("#hold").click()
    found = walked(page)
    # each control once, all of them; the aim of a thing comes right after it
    ids = [one["id"] for one in found]
    assert [i for i in ids if not i.strip().startswith("aim ")] == page.evaluate(REACHABLE)
    assert ids.index("aim camera".rjust(40)) == ids.index("camera".rjust(40)) + 1  # on the plan
    parts = [PARTS.index(one["part"]) for one in found[1:]]
    assert parts == sorted(parts)
    assert set(parts) == set(range(len(PARTS)))
    assert [one["id"] for one in found[1:] if one["ring"] < 2.0] == []
    assert [one["id"] for one in found if not one["seen"]] == []  # nor under what stays on top


def test_the_link_past_the_settings_keeps_the_view(lit):
    address = lit.evaluate("location.href")
    lit.keyboard.press("Tab")
    assert lit.locator("#skip").bounding_box()["x"] >= 0
    assert lit.evaluate(FOCUSED)["ring"] >= 2.0
    lit.keyboard.press("Enter")
    assert lit.evaluate("document.activeElement.id") == "stage"
    assert lit.evaluate("location.href") == address
    lit.keyboard.press("Tab")
    assert lit.evaluate("document.activeElement.id") == "hold"


@pytest.mark.parametrize("key", ["lux", "distance", "target.plate.facing_deg", "lens"])
def test_arrow_keys_move_a_slider_and_the_view(lit, key):
    """Ten presses are ten steps, however many answers come between them."""
    before = lit.locator("#now").get_attribute("src")
    slider = lit.locator(f"[data-key='{key}'] input[type=range]")
    begun = int(slider.input_value())
    slider.focus()
    for _ in range(10):
        lit.keyboard.press("ArrowRight")
        lit.wait_for_timeout(60)
    until(lit, f"{key!r} in JSON.parse(new URLSearchParams(location.hash.slice(1)).get('set'))")
    figure = float(lit.locator(f"[data-key='{key}'] input[type=number]").input_value())
    assert changes(lit)[key] == pytest.approx(figure, rel=0.005)
    shown(lit)
    reached(lit, "closer")
    assert abs(int(slider.input_value()) - begun - 10) <= 1  # figures have three digits
    assert lit.locator("#now").get_attribute("src") != before
    assert lit.evaluate("document.activeElement.id") == slider.get_attribute("id")
    assert slider.get_attribute("aria-valuetext").split()[0] == f"{figure:g}"


def test_escape_leaves_menu_refusal_and_placing(lit):
    summary = lit.locator("#files summary")
    summary.focus()
    lit.keyboard.press("Enter")
    lit.keyboard.press("Tab")
    assert lit.evaluate("document.activeElement.dataset.save") == "scene"
    lit.keyboard.press("Escape")
    assert lit.locator("#files").get_attribute("open") is None
    assert lit.evaluate("document.activeElement.tagName") == "SUMMARY"
    lit.locator("[data-key='distance'] input[type=number]").fill("-3")
    lit.keyboard.press("Enter")
    lit.locator("#refusal").wait_for(state="visible")
    lit.keyboard.press("Escape")
    lit.locator("#refusal").wait_for(state="hidden")
    lit.keyboard.press("Control+z")
    lit.locator("#add").focus()
    lit.keyboard.press("Enter")
    assert lit.locator("#plan .cross").count() == 1
    lit.keyboard.press("Escape")
    assert lit.locator("#plan .cross").count() == 0


def test_the_menu_closes_behind_what_leaves_it(lit):
    summary = lit.locator("#files summary")
    summary.click()
    lit.keyboard.press("Shift+Tab")
    assert lit.locator("#files").get_attribute("open") is None
    summary.click()
    lit.locator("#question").click()
    assert lit.locator("#files").get_attribute("open") is None


def test_a_lamp_is_placed_by_keys(lit):
    lit.locator("#add-kind").select_option("lamp")
    lit.locator("#add").focus()
    lit.keyboard.press("Enter")
    assert lit.evaluate("document.activeElement.id") == "plan"
    lit.keyboard.press("ArrowRight")
    where = lit.locator("#status").inner_text()
    lit.keyboard.press("ArrowRight")
    assert lit.locator("#status").inner_text() != where
    lit.keyboard.press("Enter")
    until(lit, "location.hash.includes('lamp.lamp')")
    right, ahead = changes(lit)["lamp.lamp"]["position_m"][:2]
    told = where.split(" m ")
    assert float(told[0]) == pytest.approx(right)
    assert float(told[1].rsplit(" ", 1)[1]) == pytest.approx(ahead - 0.5)
    assert lit.evaluate("document.activeElement.id") == "thing"


def test_the_wipe_goes_by_keys_and_by_pointer(lit):
    lit.locator("#hold").focus()
    lit.keyboard.press("Enter")
    wipe = lit.locator("#wipe")
    wipe.focus()
    for _ in range(5):
        lit.keyboard.press("ArrowRight")
    clip = "getComputedStyle(document.getElementById('held')).clipPath"
    assert "45%" in lit.evaluate(clip)
    assert wipe.get_attribute("aria-valuetext") == "A on the left 55 %"
    lit.keyboard.press("Home")
    assert "100%" in lit.evaluate(clip)
    box = lit.locator("#frame").bounding_box()
    y = box["y"] + box["height"] / 2
    lit.mouse.move(box["x"] + 10, y)
    lit.mouse.down()
    lit.mouse.move(box["x"] + 0.8 * box["width"], y, steps=3)
    lit.mouse.up()
    assert wipe.input_value() == "80"


def test_a_screen_reader_is_told_what_everything_is(page, server):
    """From the browser's accessibility tree: roles, names, landmarks, one heading on top."""
    opened(page, server)
    page.locator("#hold").click()
    nodes = page.context.new_cdp_session(page).send("Accessibility.getFullAXTree")["nodes"]
    told = [
        (one["role"]["value"], one.get("name", {}).get("value", ""), one)
        for one in nodes
        if not one.get("ignored") and "role" in one
    ]
    roles = [role for role, _, _ in told]
    worked = {"button", "slider", "combobox", "textbox", "spinbutton", "checkbox", "link", "image"}
    assert [(role, node) for role, name, node in told if role in worked and not name.strip()] == []
    assert worked <= set(roles) | {"image"}
    for landmark in ("banner", "main", "contentinfo", "status"):
        assert roles.count(landmark) == 1, landmark
    levels = [
        prop["value"]["value"]
        for role, _, node in told if role == "heading"
        for prop in node["properties"] if prop["name"] == "level"
    ]  # fmt: skip
    assert levels.count(1) == 1 and max(levels) <= 3
    names = {role: [name for r, name, _ in told if r == role] for role in worked}
    assert len(set(names["slider"])) == len(names["slider"])
    assert any(name.startswith("Camera, ") for name in names["button"])  # on the plan
    assert any(name.startswith("The predicted picture: ") for name in names["image"])
    gauge = next(name for name in names["image"] if name.startswith("Probability"))
    assert page.locator(".gauge-told b").inner_text().split(" of")[0] in gauge
    status = page.locator("#status").inner_text()
    assert status.startswith(f"Proved: {page.locator('#word').inner_text()}, ")
    # what the eye sees by a marker of its group is told by its group as well
    groups = [name for role, name, _ in told if role == "group"]
    for name in ("Light", "Place", "Target", "Camera"):
        assert name in groups
