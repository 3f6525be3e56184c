"""Click about on the workbench at random, and watch for faults and for memory that grows.

    python tools/click_about.py [--seconds 600] [--pages 2] [--seed 1]

Drives a real browser (Playwright, a chromium on this machine) before a server of its own. Ends with
1 if the page or the server showed a fault, if the server ever held more than `--most` MB, or if it
holds much more in the last third than in the middle one.
"""

from __future__ import annotations

import argparse
import os
import random
import shutil
import subprocess
import sys
import time
from pathlib import Path

from playwright.sync_api import Error, Page, sync_playwright

ROOT = Path(__file__).resolve().parents[1]
QUIET = [
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
]  # fmt: skip
GROWTH = 1.35
"""Memory in the last third over that in the middle one from which on it counts as growing."""
MOST_MB = 1800.0
"""Memory that the server may hold at its peak [MB]; a prediction of one scene alone takes 1000."""
SLOW = ("seek", "copy")
"""Buttons that are left alone: one takes a minute each time, one wants the clipboard."""


def memory_mb(process: int, what: str = "VmRSS") -> float:
    """Resident memory of a process [MB]; its peak as "VmHWM"."""
    text = Path(f"/proc/{process}/status").read_text(encoding="utf-8")
    line = next(one for one in text.splitlines() if one.startswith(what))
    return float(line.split()[1]) / 1024.0


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
            end = time.monotonic() + asked.seconds
            while time.monotonic() < end and server.poll() is None:
                page = chance.choice(pages)
                try:
                    click(page, chance)
                    done += 1
                except Error as error:
                    if "Timeout" not in str(error):
                        faults.append(str(error)[:300])
                page.wait_for_timeout(chance.choice((20, 100, 600)))
                held.append(memory_mb(server.pid))
                peak = memory_mb(server.pid, "VmHWM")
            browser.close()
    finally:
        ended = server.poll()
        server.terminate()
        rest = server.stdout.read()
    third = max(1, len(held) // 3)
    middle, last = max(held[third : 2 * third]), max(held[2 * third :])
    print(f"{done} clicks; memory {held[0]:.0f} MB at first, {middle:.0f} then {last:.0f} at most,"
          f" {peak:.0f} at its peak")  # fmt: skip
    if "Traceback" in rest or ended is not None:
        faults.append(rest[-2000:])
    if peak > asked.most:
        faults.append(f"more than {asked.most:.0f} MB")
    if last > GROWTH * middle:
        faults.append(f"memory grows: {middle:.0f} MB, then {last:.0f} MB")
    print("\n".join(faults) if faults else "nothing wrong")
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
