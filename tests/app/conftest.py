"""A workbench of its own process and a browser before it, for the tests that drive one."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest
from workbench_page import BROWSER, QUIET, is_own

import simulator

ROOT = Path(simulator.__file__).parents[1]


@pytest.fixture(scope="module")
def server():
    """Address of a workbench of its own process."""
    code = "from simulator.app.cli import main; main()"
    env = {**os.environ, "PYTHONPATH": str(ROOT)}
    with subprocess.Popen(
        [sys.executable, "-c", code, "web", "--port", "0", "--no-open"],
        cwd=ROOT, env=env, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True,
    ) as process:  # fmt: skip
        assert process.stdout is not None
        told = process.stdout.readline()
        yield told.split(": ", 1)[1].split("#")[0].strip()
        process.terminate()
        rest = process.stdout.read()
    assert "Traceback" not in rest


@pytest.fixture(scope="module")
def browser():
    playwright = pytest.importorskip(
        "playwright.sync_api", reason='needs Playwright: pip install "nightproof[test]"'
    )
    if BROWSER is None:
        pytest.skip("no chromium on this machine")
    with playwright.sync_playwright() as found:
        made = found.chromium.launch(executable_path=BROWSER, args=list(QUIET))
        yield made
        made.close()


@pytest.fixture
def page(browser):
    """A page of its own, whose errors and requests to elsewhere fail the test."""
    context = browser.new_context(viewport={"width": 1400, "height": 950}, accept_downloads=True)
    page = context.new_page()
    faults = []
    page.on("pageerror", lambda error: faults.append(str(error)))
    page.on("console", lambda told: faults.append(told.text) if told.type == "error" else None)
    page.on(
        "request",
        lambda asked: None if is_own(asked.url) else faults.append(f"asks {asked.url[:80]}"),
    )
    yield page
    context.close()
    assert [fault for fault in faults if "400 (Bad Request)" not in fault] == []
