"""How long a slider of the workbench waits for its picture: the distribution, step by step.

    python benchmarks/web_latency.py [--moves 20] [--proof]

Asks the server's own work as a page does, without a browser: sliders of light (weighed anew), of
exposure, and of place (traced anew). Wall time on this machine as it is; on a busy one it tells how
busy it is.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Callable
from contextlib import suppress

import numpy as np

from simulator.app.web import answers
from simulator.app.web.kept import Kept
from simulator.app.web.lanes import OutOfDateError
from simulator.app.web.view import View
from simulator.app.web.workspace import Workspace
from simulator.scene.radiosity.field import rough
from simulator.studies.predict import predict

SLIDERS = {
    "light": lambda share: {"lux": 0.01 * 10 ** (2 * share)},
    "lamp": lambda share: {
        "illuminator.mast infrared.radiant_intensity_w_per_sr": 0.5 * 20**share
    },
    "shutter": lambda share: {"shutter": 0.0005 * 60**share},
    "distance": lambda share: {"distance": 10.0 + 15.0 * share},
    "focal length": lambda share: {"lens": 8.0 + 12.0 * share},
}  # fmt: skip


def timed(kept: Kept, view: View, workspace: Workspace, *, proof: bool = False) -> dict[str, float]:
    """Seconds until the first picture, the coarse one, and the first look at the target; with
    `proof` until the whole picture and its probability as well."""
    out: dict[str, float] = {}
    begun, spent = time.perf_counter(), time.process_time()
    first = kept.glance(view, workspace.folder)
    if first is not None:
        with rough():
            answers.glanced(first)
        out["first"] = time.perf_counter() - begun
        out["first processor"] = time.process_time() - spent
    steps: tuple[tuple[str, Callable], ...] = (("coarse", answers.coarse), ("look", answers.look))
    for name, step in steps:
        with kept.session(view, workspace.folder) as session:
            step(session)
        out[name] = time.perf_counter() - begun
        out[f"{name} processor"] = time.process_time() - spent
        for when in ("", " processor"):
            out.setdefault(f"first{when}", out[f"{name}{when}"])
    if proof:
        with suppress(OutOfDateError):

            def counted(_: object) -> None:
                out["proof"] = time.perf_counter() - begun
                out["proof processor"] = time.process_time() - spent
                raise OutOfDateError

            pair = kept.opened(view, workspace.folder)
            predict(*pair, remedies=False, tolerances=False, counted=counted)
    return out


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--moves", type=int, default=20)
    parser.add_argument("--proof", action="store_true", help="time the whole picture too")
    asked = parser.parse_args()
    moves = asked.moves
    workspace, kept = Workspace(), Kept()
    timed(kept, View(), workspace)  # what is compiled and kept on disk
    print(
        f"{'slider':<14}{'step':<8}{'least':>7}{'median':>8}{'90 %':>7}{'most':>7}{'processor':>11}"
    )
    for name, change in SLIDERS.items():
        shares = np.random.default_rng(1).permutation(moves) / max(1, moves - 1)
        rows = [
            timed(kept, View(changes=change(float(s))), workspace, proof=asked.proof)
            for s in shares
        ]
        for step in ("first", "coarse", "look", *(["proof"] if asked.proof else [])):
            ms = 1000.0 * np.array([row[step] for row in rows])
            told = (ms.min(), np.median(ms), np.percentile(ms, 90), ms.max())
            cells = "".join(f"{v:>{7 + (k == 1)}.0f}" for k, v in enumerate(told))
            spent = 1000.0 * np.median([row[f"{step} processor"] for row in rows])
            print(f"{name:<14}{step:<8}{cells}{spent:>11.0f}")
    print("milliseconds; processor: median of all threads together")
    workspace.close()


if __name__ == "__main__":
    main()
