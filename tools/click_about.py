"""Click about on the workbench at random, and watch for faults and for memory that grows.

    python tools/click_about.py [--seconds 600] [--pages 2] [--seed 1]

Drives a real browser (Playwright, a chromium on this machine) before a server of its own. Ends with
1 if the page or the server showed a fault, if the server ever held more than `--most` MB, or if
what it holds at rest grows: once a minute the pages are left until the server has nothing to do,
and the slope of what it holds then is printed, and judged over the second half of the time.
"""

from __future__ import annotations

import argparse
import os
import random
import shutil
import subprocess
import sys
import time
from itertools import combinations
from pathlib import Path
from statistics import median

from playwright.sync_api import Error, Page, sync_playwright

ROOT = Path(__file__).resolve().parents[1]
QUIET = [
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
]  # fmt: skip
REST_S = 60.0
"""So often all pages are left, and what the server holds when it has come to rest is noted."""
LONGEST_REST_S = 60.0
STEEP_MB_PER_MIN = 20.0
"""Slope of it from which on memory counts as growing: 200 MB in ten minutes."""
MOST_MB = 1800.0
"""Memory that the server may hold at its peak [MB]; a prediction of one scene alone takes 1000."""
SLOW = ("seek", "copy")
"""Buttons that are left alone: one takes a minute each time, one wants the clipboard."""


def memory_mb(process: int, what: str = "VmRSS") -> float:
    """Resident memory of a process [MB]; its peak as "VmHWM"."""
    text = Path(f"/proc/{process}/status").read_text(encoding="utf-8")
    line = next(one for one in text.splitlines() if one.startswith(what))
    return float(line.split()[1]) / 1024.0


def slope_of(held: list[tuple[float, float]]) -> float:
    """Slope [MB/min] of memory at rest over the second half of the time, when what is kept is full;
    by Theil and Sen (the median of the slopes of all pairs), which single values do not sway."""
    half = [(at_s, mb) for at_s, mb in held if at_s >= held[-1][0] / 2.0]
    slopes = [60.0 * (b - a) / (then - at) for (at, a), (then, b) in combinations(half, 2)]
    return median(slopes) if slopes else 0.0


def spent_s(process: int) -> float:
    """Processor time of a process."""
    parts = Path(f"/proc/{process}/stat").read_text(encoding="utf-8").rsplit(")", 1)[1].split()
    return (int(parts[11]) + int(parts[12])) / os.sysconf("SC_CLK_TCK")


def at_rest(pages: list[Page], server: int, address: str) -> float | None:
    """Memory [MB] of the server when no page asks it anything, None if it goes on working; the
    pages come back to it."""
    for page in pages:
        page.goto("about:blank")
    end, held = time.monotonic() + LONGEST_REST_S, None
    while time.monotonic() < end:
        before = spent_s(server)
        time.sleep(1.0)
        if spent_s(server) - before < 0.05:
            held = memory_mb(server)
            break
    for page in pages:
        page.goto(address)
        page.locator("#controls input").first.wait_for()
    return held


def click(page: Page, chance: random.Random) -> str:
    """Do one thing at random; what was done."""
    kind = chance.choice(("slider", "slider", "slider", "choice", "button", "plan", "number"))
    if kind == "slider":
        handles = page.locator("#controls input[type=range]")
        one = handles.nth(chance.randrange(handles.count()))
        one.fill(str(chance.randrange(401)), timeout=2000)
    elif kind == "number":
        handles = page.locator("#controls input[type=number]")
        handles.nth(chance.randrange(handles.count())).fill(chance.choice(("1", "-5", "30", "1e9")))
        page.keyboard.press("Tab")
    elif kind == "choice":
        handles = page.locator("#controls select, #scene, #camera")
        one = handles.nth(chance.randrange(handles.count()))
        many = one.locator("option").count()
        one.select_option(index=chance.randrange(many), timeout=2000)
    elif kind == "plan":
        handles = page.locator(".thing")
        handles.nth(chance.randrange(handles.count())).focus(timeout=2000)
        page.keyboard.press(chance.choice(("ArrowUp", "ArrowLeft", "ArrowRight", "Delete")))
    else:
        handles = page.locator("button:visible:enabled")
        one = handles.nth(chance.randrange(handles.count()))
        if one.get_attribute("id", timeout=2000) in SLOW or one.get_attribute("data-export"):
            return "nothing"
        one.click(timeout=2000)
    return kind


def main() -> int:
    """Click; 1 if something was wrong."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--seconds", type=float, default=600.0)
    parser.add_argument("--pages", type=int, default=2)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--most", type=float, default=MOST_MB, help="[MB]")
    asked = parser.parse_args()
    chance, faults, held, done, peak = random.Random(asked.seed), [], [], 0, 0.0
    rests: list[tuple[float, float]] = []
    next_rest_s = REST_S
    browser_path = shutil.which("chromium") or shutil.which("chromium-browser")
    code = "from simulator.app.cli import main; main()"
    server = subprocess.Popen(
        [sys.executable, "-c", code, "web", "--port", "0", "--no-open"], cwd=ROOT,
        env={**os.environ, "PYTHONPATH": str(ROOT)}, stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT, text=True,
    )  # fmt: skip
    assert server.stdout is not None
    address = server.stdout.readline().split(": ", 1)[1].strip()
    try:
        with sync_playwright() as playwright:
            browser = playwright.chromium.launch(executable_path=browser_path, args=QUIET)
            pages = [browser.new_context().new_page() for _ in range(asked.pages)]
            for page in pages:
                page.on("pageerror", lambda error: faults.append(str(error)))
                page.goto(address)
                page.locator("#controls input").first.wait_for()
            begun = time.monotonic()
            end = begun + asked.seconds
            while time.monotonic() < end and server.poll() is None:
                if time.monotonic() - begun > next_rest_s:
                    mb = at_rest(pages, server.pid, address)
                    if mb is not None:
                        rests.append((time.monotonic() - begun, mb))
                    next_rest_s = time.monotonic() - begun + REST_S
                page = chance.choice(pages)
                try:
                    click(page, chance)
                    done += 1
                except Error as error:
                    if "Timeout" not in str(error):
                        faults.append(str(error)[:300])
                page.wait_for_timeout(chance.choice((20, 100, 600)))
                held.append((time.monotonic() - begun, memory_mb(server.pid)))
                peak = memory_mb(server.pid, "VmHWM")
            browser.close()
    finally:
        ended = server.poll()
        server.terminate()
        rest = server.stdout.read()
    third = max(1, len(held) // 3)
    parts = [[mb for _, mb in held[k * third :][:third]] for k in range(3)]
    slope = slope_of(rests) if rests else 0.0
    print(f"{done} clicks; memory by thirds, least to most: "
          + ", ".join(f"{min(part):.0f} to {max(part):.0f} MB" for part in parts)
          + f"; {peak:.0f} at its peak; at rest "
          + ", ".join(f"{mb:.0f}" for _, mb in rests)
          + f" MB, slope {slope:+.1f} MB/min")  # fmt: skip
    if "Traceback" in rest or ended is not None:
        faults.append(rest[-2000:])
    if peak > asked.most:
        faults.append(f"more than {asked.most:.0f} MB")
    if slope > STEEP_MB_PER_MIN:
        faults.append(f"memory grows by {slope:.0f} MB a minute")
    print("\n".join(faults) if faults else "nothing wrong")
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
