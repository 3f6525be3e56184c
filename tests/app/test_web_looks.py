"""The workbench's page in both themes, at a desk and on a phone: order, places, contrast."""

from __future__ import annotations

import pytest
from workbench_page import opened, reached

pytest.importorskip("playwright", reason='needs Playwright: pip install "nightproof[test]"')
pytestmark = pytest.mark.invariant
SIZES = {"desk": (1400, 950), "tablet": (900, 1100), "phone": (390, 844)}
COLOURS = """() => {
    const parsed = text => {
        const [r, g, b, a = 1] = text.match(/[\\d.]+/g).map(Number);
        return [r, g, b, a];
    };
    const behind = one => {
        const layers = [];
        for (let at = one; at; at = at.parentElement) {
            layers.push(parsed(getComputedStyle(at).backgroundColor));
            if (layers.at(-1)[3] === 1) break;
        }
        return layers.reverse().reduce((under, over) =>
            [0, 1, 2].map(k => over[3] * over[k] + (1 - over[3]) * under[k]), [255, 255, 255]);
    };
    const seen = one => one.checkVisibility() && one.getBoundingClientRect().width > 1;
    const told = one => one.id || one.textContent.trim().slice(0, 30) || one.tagName;
    const texts = [], parts = [];
    const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
    while (walk.nextNode()) {
        const one = walk.currentNode.parentElement;
        if (!walk.currentNode.textContent.trim()) continue;
        if (!seen(one) || one.closest(':disabled')) continue;
        const style = getComputedStyle(one), svg = one.ownerSVGElement;
        const size = parseFloat(style.fontSize);
        texts.push({ what: told(one), front: parsed(svg ? style.fill : style.color),
            back: behind(svg ?? one), size,
            large: size >= 24 || (size >= 18.66 && Number(style.fontWeight) >= 600) });
    }
    const add = (selector, front, back) => {
        for (const one of document.querySelectorAll(selector)) {
            if (seen(one) && !one.disabled) {
                const what = `${selector} ${told(one)}`;
                parts.push({ what, front: front(one), back: back(one) });
            }
        }
    };
    const style = (one, name) => parsed(getComputedStyle(one)[name]);
    const paper = one => behind(one.parentElement);
    for (const kind of ['button', 'select', '[type=number]', '[type=text]', 'header summary']) {
        add(kind, one => style(one, 'borderTopColor'), paper);
    }
    add('.gauge i', one => style(one, 'backgroundColor'), paper);
    add('.bars .track i', one => style(one, 'backgroundColor'), paper);
    add('.gauge u', one => style(one, 'backgroundColor'),
        one => parsed(getComputedStyle(one).boxShadow.match(/rgba?\\([^)]*\\)/)[0]));
    add('#plan .ring, #plan .wall, #side .ground', one => style(one, 'stroke'),
        one => behind(one.ownerSVGElement));
    add('#plan .lamp, #plan .illuminator, #plan .camera, #plan .target, #plan .body',
        one => style(one, 'fill'), one => behind(one.ownerSVGElement));
    const focus = document.createElement('button');
    document.querySelector('.compare').append(focus);
    focus.focus();
    const ring = getComputedStyle(document.documentElement).getPropertyValue('--focus').trim();
    focus.style.color = ring;
    parts.push({ what: 'the ring of the focus', front: parsed(getComputedStyle(focus).color),
        back: paper(focus) });
    focus.remove();
    return { texts, parts };
}"""


def luminance(colour):
    """Relative luminance of sRGB levels (WCAG 2.1, relative luminance)."""
    shares = [level / 255.0 for level in colour[:3]]
    linear = [s / 12.92 if s <= 0.03928 else ((s + 0.055) / 1.055) ** 2.4 for s in shares]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one):
    """Contrast ratio of front and back (WCAG 2.1, contrast ratio)."""
    light, dark = sorted((luminance(one["front"]), luminance(one["back"])), reverse=True)
    return (light + 0.05) / (dark + 0.05)


@pytest.mark.outside
def test_the_ratio_is_that_of_wcag():
    """Black on white is 21 to 1; #777 on white is 4.48, known as just too little."""
    white = (255, 255, 255)
    assert contrast({"front": (0, 0, 0), "back": white}) == pytest.approx(21.0)
    assert contrast({"front": (0x77, 0x77, 0x77), "back": white}) == pytest.approx(4.48, abs=0.005)


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_contrast_reaches_aa(page, server, theme):
    """Text 4.5 (large 3), what is needed to see a control or a mark 3 (WCAG 2.1, 1.4.3, 1.4.11)."""
    page.emulate_media(color_scheme=theme)
    opened(page, server)
    for size in SIZES.values():
        page.set_viewport_size({"width": size[0], "height": size[1]})
        found = page.evaluate(COLOURS)
        assert len(found["texts"]) > 60 and len(found["parts"]) > 40
        low = [
            (one["what"], round(contrast(one), 2))
            for one in found["texts"]
            if contrast(one) < (3.0 if one["large"] else 4.5)
        ]
        low += [
            (one["what"], round(contrast(one), 2))
            for one in found["parts"]
            if contrast(one) < 3.0
        ]  # fmt: skip
        assert low == []
        assert min(one["size"] for one in found["texts"]) >= 11.5


def inside(page, selector):
    """Whether something is on the screen, whole."""
    box = page.locator(selector).bounding_box()
    size = page.viewport_size
    return (
        box["y"] >= 0 and box["y"] + box["height"] <= size["height"]
        and box["x"] >= 0 and box["x"] + box["width"] <= size["width"]
    )  # fmt: skip


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_on_a_phone_the_answer_comes_first_and_stays(page, server, theme):
    page.emulate_media(color_scheme=theme)
    page.set_viewport_size({"width": 390, "height": 844})
    opened(page, server)
    parts = ("#word", "#probability", "#frame", "#hold", "#seek", "#control-lux", "#plan", "#fall")
    tops = [page.locator(part).bounding_box()["y"] for part in parts]
    assert tops == sorted(tops)
    for part in ("#question", "#word", "#probability", "#frame"):
        assert inside(page, part), part
    # answer and picture stay in sight beside the slider that moves
    slider = page.locator("#control-lens")
    slider.focus()
    for part in ("#word", "#probability", "#frame", "#control-lens"):
        assert inside(page, part), part
    under = slider.bounding_box()["y"]
    frame = page.locator(".sight").bounding_box()
    assert under >= frame["y"] + frame["height"]
    before = page.locator("#now").get_attribute("src")
    page.keyboard.press("PageUp")
    reached(page, "proved")
    assert page.locator("#now").get_attribute("src") != before
    assert page.evaluate("document.documentElement.scrollWidth") <= 390


@pytest.mark.parametrize("size", SIZES)
def test_nothing_lies_over_anything_else(page, server, size):
    """Texts and controls of the page cover each other nowhere, nor are they cut off."""
    wide, high = SIZES[size]
    page.set_viewport_size({"width": wide, "height": high})
    opened(page, server)
    covered = page.evaluate("""() => {
        const all = [...document.querySelectorAll(
            'h1, h2, h3, p, button, select, label, input, dt, dd, li, figcaption, legend, svg')]
            .filter(one => one.checkVisibility() && (one.tagName !== 'P' || one.textContent))
            .filter(one => !one.closest('details:not([open]) > :not(summary)'))
            .map(one => [one, one.getBoundingClientRect()])
            .filter(([one, box]) => box.width > 1 && box.height > 1 && box.right > 0);
        const out = [];
        for (const [k, [one, a]] of all.entries()) {
            for (const [other, b] of all.slice(k + 1)) {
                if (one.contains(other) || other.contains(one)) continue;
                const across = Math.min(a.right, b.right) - Math.max(a.left, b.left);
                const down = Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top);
                if (across > 2 && down > 2) out.push([one.outerHTML.slice(0, 60),
                    other.outerHTML.slice(0, 60)]);
            }
            if (a.right > innerWidth + 1) out.push([one.outerHTML.slice(0, 60), 'cut off']);
        }
        return out;
    }""")
    assert covered == []
    words = page.evaluate("""() => [...document.querySelectorAll('#plan text, #side text')]
        .filter(one => { const a = one.getBoundingClientRect(),
            b = one.ownerSVGElement.getBoundingClientRect();
            return a.left < b.left - 1 || a.right > b.right + 1 || a.top < b.top - 1; })
        .map(one => one.textContent)""")
    assert words == []
