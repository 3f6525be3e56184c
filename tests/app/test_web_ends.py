"""Ctrl-C and SIGTERM end the workbench at once, also while it works for a page."""

from __future__ import annotations

import json
import signal
import subprocess
import sys
import urllib.request

import pytest

pytest.importorskip("uvicorn", reason='needs the workbench: pip install "nightproof[web]"')
WORK_TAKES_S = 20.0
"""Fixes of a dark gate take several times as long, so who waits for them does not end in time."""


def started():
    code = "from simulator.app.cli import main; main()"
    return subprocess.Popen(
        [sys.executable, "-c", code, "web", "--port", "0", "--no-open"],
        stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True,
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),  # noqa: PLW1509
    )  # fmt: skip


def asked(address, what):
    """A question whose answer is under way."""
    view = {"scene": "depot-gate-dark", "camera": "fixed-2mp-lowlight"}
    body = json.dumps({"page": what, "view": view}).encode()
    headers = {"content-type": "application/json", "origin": address}
    return urllib.request.urlopen(urllib.request.Request(f"{address}/{what}", body, headers))


@pytest.mark.invariant
@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_it_ends_at_once_and_says_nothing(number: signal.Signals) -> None:
    server = started()
    assert server.stdout is not None
    try:
        address = server.stdout.readline().split(": ", 1)[1].split("/#")[0].strip()
        assert server.stdout.readline() == "Ctrl-C ends it.\n"
        with asked(address, "fixes") as slow, asked(address, "answer") as quick:
            assert json.loads(quick.readline())["step"] == "opened"
            server.send_signal(number)
            said, _ = server.communicate(timeout=WORK_TAKES_S)
            assert said == ""
            assert server.returncode == 130
            assert [json.loads(line)["step"] for line in slow] == ["dropped"]
            assert json.loads(quick.readlines()[-1])["step"] == "dropped"
    finally:
        server.kill()
        server.wait()
        server.stdout.close()
