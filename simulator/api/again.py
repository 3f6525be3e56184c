"""A prediction made once more from its own folder: identical bytes, or what differs."""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from simulator.camera.load import Camera
from simulator.errors import FileFormatError
from simulator.judge.result import PREDICT_AGAIN, SCHEMA_VERSION
from simulator.reading import check_layout, json_of
from simulator.scene.load import Scene
from simulator.studies import manifest
from simulator.studies.provenance import RUN, input_hash, versions


@dataclass(frozen=True)
class Again:
    """What became of a result that was made once more.

    Attributes
    ----------
    differing
        Names of the files whose bytes differ; empty if the result is identical.
    reasons
        What may be the cause: versions, inputs or files that were changed since.
    compared
        How many files were compared.
    """

    differing: tuple[str, ...]
    reasons: tuple[str, ...]
    compared: int

    @property
    def identical(self) -> bool:
        """Whether every file has the same bytes."""
        return not self.differing


def rerun(
    result: str | Path,
    out: str | Path | None = None,
    progress: Callable[[str, float], None] | None = None,
) -> Again:
    """Make a prediction once more from the inputs in its folder, and compare the bytes.

    Parameters
    ----------
    result
        A folder that `predict` wrote; it stays as it is.
    out
        Keep the new result there.
    progress
        As `predict` takes it.

    Returns
    -------
    Again
        Whether the bytes are identical; else which files differ and what may be the cause.

    Raises
    ------
    InputError
        If it is no prediction, if another version laid it out, or if its inputs are not there.

    References
    ----------
    Same inputs, seed and versions give the same bytes, whatever the number of threads: a promise of
    this package, held by its tests.

    Examples
    --------
    >>> from tempfile import mkdtemp
    >>> from simulator import Camera, predict, rerun
    >>> part = {"sensor.width_px": 640, "sensor.height_px": 640}
    >>> camera = Camera.load("plate-2mp-infrared").set(part)
    >>> folder = predict("depot-gate-infrared", camera, remedies=False,
    ...                  tolerances=False, reserve=False).save(mkdtemp())
    >>> rerun(folder).identical
    True
    """
    from simulator.api.prediction import predict

    folder = Path(result)
    verdict = json_of(folder / "verdict.json", "verdict.json")
    asked = _asked(folder, verdict)
    check_layout(verdict, SCHEMA_VERSION, folder / "verdict.json", PREDICT_AGAIN)
    pair = (
        replace(Scene.load(folder / "inputs" / "scene.toml"), name=str(verdict["scene"])),
        replace(Camera.load(folder / "inputs" / "camera.toml"), name=str(verdict["camera"])),
    )
    others = asked["cameras"]
    made = predict(
        *pair,
        seed=verdict["seed"],
        progress=progress,
        remedies=asked["remedies"],
        tolerances=asked["tolerances"],
        reserve=asked["reserve"],
        cameras=None if others is None else [Camera.load(name) for name in others],
    )
    with tempfile.TemporaryDirectory() as aside:
        new = Path(out) if out is not None else Path(aside) / "result"
        made.save(new, raw=asked["raw"])
        listed = manifest.read_manifest(folder) or {}
        news = manifest.read_manifest(new) or {}
    differing = sorted(n for n in {*listed, *news} if listed.get(n) != news.get(n))
    return Again(tuple(differing), tuple(_reasons(folder, verdict, listed, pair)), len(listed))


def _asked(folder: Path, verdict: Mapping[str, Any]) -> dict[str, Any]:
    """What was asked of the inputs of a result."""
    if "signal" not in verdict or not {"scene", "camera", "seed"} <= verdict.keys():
        raise FileFormatError(
            "Only the result of a prediction can be made again from its folder.",
            file=folder / "verdict.json",
            given=str(verdict.get("study", "something else")),
            allowed="a folder that predict wrote",
            fix="run the command of the study again with the files in its inputs/",
        )
    asked = json_of(folder / "inputs" / RUN, "record of what was asked")
    # the reserve was always sought before it could be left out
    asked.setdefault("reserve", True)
    kinds = {
        "remedies": bool, "tolerances": bool, "reserve": bool, "raw": bool, "cameras": list | None,
    }  # fmt: skip
    for name, kind in kinds.items():
        if not isinstance(asked.get(name), kind):
            raise FileFormatError(
                "This is not the record of a prediction.",
                file=folder / "inputs" / RUN,
                key=name,
                given=asked.get(name),
                fix="run the prediction again",
            )
    return asked


def _reasons(
    folder: Path,
    verdict: Mapping[str, Any],
    listed: Mapping[str, str],
    pair: tuple[Scene, Camera],
) -> list[str]:
    """What may make a result differ."""
    said = verdict.get("versions")
    was = said if isinstance(said, Mapping) else {}
    reasons = [
        f"{name} {was[name]} then, {now} now"
        for name, now in versions().items()
        if name in was and was[name] != now
    ]
    if verdict.get("input_hash") != input_hash(*pair):
        reasons.append("the files in inputs/ are not those of the result")
    reasons += [f"{name} was changed since" for name in manifest.changed(folder, listed)]
    return reasons
