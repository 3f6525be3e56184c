"""Widths, light and fog in which people are known and seen, and a general detector beside them.

    python tools/read_people.py [table] [witness]

`table` prints what docs/people.md says of faces by width and light and of a walker in fog;
`witness` gives the delivered pictures to a face detector that knows nothing of us, scikit-image's
local-binary-pattern cascade, trained on photographs of faces. Without a word both are done.
"""

from __future__ import annotations

import argparse
import sys
from functools import cache
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray
from skimage import data, feature

ROOT = Path(__file__).resolve().parents[1]
sys.path += [str(ROOT / "tests" / name) for name in ("judge", "support")]

from test_people import camera, detected, face, fence, looked_at  # noqa: E402

from simulator.judge.parts import critical_px  # noqa: E402
from simulator.judge.people import FULL, know_face  # noqa: E402
from simulator.scene.variants import without  # noqa: E402

DISTANCES_M, LUX, FOG_M = (16.0, 22.0, 33.0, 60.0, 94.0), (5.0, 1.0, 0.1), (120.0, 240.0, 500.0)
SHOWN_PX = 120.0
"""Faces are enlarged to about this width; the cascade looks at windows of 24 px and more."""
LOOKS = 8
"""Pictures of each condition."""
PAD_PX = 40


@cache
def cascade() -> feature.Cascade:
    """The detector."""
    return feature.Cascade(data.lbp_frontal_face_cascade_filename())


def fires(picture: NDArray[np.uint8], across_px: float) -> bool:
    """Whether the detector finds a face of about the width that one would have."""
    scale = SHOWN_PX / across_px
    large = cv2.resize(picture, None, fx=scale, fy=scale, interpolation=cv2.INTER_CUBIC)
    side = round(SHOWN_PX)
    faces = cascade().detect_multi_scale(
        large, scale_factor=1.1, step_ratio=1, min_size=(side // 2, side // 2),
        max_size=(2 * side, 2 * side),
    )  # fmt: skip
    return len(faces) > 0


def witnessed(scene) -> tuple[float, float, float, float]:  # type: ignore[no-untyped-def]
    """Width of the face, the shares of pictures with it and without in which it is found, and the
    observer's probability to detect it."""
    retakes, part, silhouette = looked_at(scene, camera())
    across = critical_px(retakes.in_scene, part, silhouette)
    near, _ = retakes.around(silhouette.inside, PAD_PX, retakes.plan.split)
    world = retakes.in_scene.world
    shares = [
        np.mean([fires(p, across) for p in near.pictures(one, [LOOKS], k, name)])
        for k, (one, name) in enumerate(((world, ""), (without(world, ["somebody"]), "nobody")))
    ]
    return across, float(shares[0]), float(shares[1]), detected(scene)


def known(scene) -> tuple[float, float, float]:  # type: ignore[no-untyped-def]
    """Width of the face, and the probabilities to recognise and to identify it."""
    retakes, part, silhouette = looked_at(scene, camera())
    values = [
        know_face(retakes, part, silhouette, task, effort=FULL).value
        for task in ("recognise", "identify")
    ]
    return critical_px(retakes.in_scene, part, silhouette), values[0], values[1]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("what", nargs="*", choices=["table", "witness"])
    what = parser.parse_args().what or ["table", "witness"]
    scenes = {
        **{f"{d:g} m, 500 lx": face(d) for d in DISTANCES_M},
        **{f"14 m, {lux:g} lx": face(14.0, lux) for lux in LUX},
    }
    if "table" in what:
        for name, scene in scenes.items():
            across, recognised, identified = known(scene)
            print(f"{name}: {across:.0f} px, recognised {recognised:.2f}, identified "
                  f"{identified:.2f}", flush=True)  # fmt: skip
        for visibility_m in FOG_M:
            seen = detected(fence().set({"air.visibility_m": visibility_m}))
            print(f"walker in fog of {visibility_m:g} m: detected {seen:.2f}", flush=True)
    if "witness" in what:
        for name, scene in {"6 m, 500 lx": face(6.0), "14 m, 500 lx": face(14.0), **scenes}.items():
            across, there, gone, ours = witnessed(scene)
            print(f"{name}: {across:.0f} px, found {there:.2f} with the face, {gone:.2f} without;"
                  f" observer {ours:.2f}", flush=True)  # fmt: skip


if __name__ == "__main__":
    main()
