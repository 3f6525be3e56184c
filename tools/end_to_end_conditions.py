"""Conditions under which whole cameras picture plates for readers to be compared on.

Thirteen kinds of impairment, each from mild to hopeless. Every condition is a scene and a camera as
their files would say it; designs of plates take turns. In each kind every other condition is held
out from any fit, and so is one design altogether.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

DESIGNS = (
    "dark-on-white-520x110",
    "dark-on-white-520x111-wide",
    "light-on-blue-440x140",
    "dark-on-yellow-520x110",
)
TEXTS = {
    "dark-on-white-520x110": "K2W8 R4D",
    "dark-on-white-520x111-wide": "K2W8 R4D",
    "light-on-blue-440x140": "K2W8 R4D",
    "dark-on-yellow-520x110": "K2W8 R4D",
}
WELL_LIT = 100.0
"""Light in which the shutter of the moving plates does not overexpose them [lx]."""
BASE_CAMERA: dict[str, Any] = {
    "sensor": {"width_px": 640, "height_px": 360, "shutter": "global"},
    "lens": {"focal_length_mm": 12.0, "focus_m": 18.0},
    "processing": {"noise_reduction": 0.3, "temporal_noise_reduction": 0.0},
}


@dataclass(frozen=True)
class Condition:
    """One scene and camera: `scene` and `camera` are tables laid over the base, `plate` over the
    plate's own; `told` says in words what was changed."""

    kind: str
    number: int
    told: str
    design: str
    scene: dict[str, Any]
    camera: dict[str, Any]
    plate: dict[str, Any]
    distance_m: float
    lux: float

    @property
    def held_out(self) -> bool:
        """Whether no fit may see it."""
        return self.number % 2 == 1


def merged(*tables: dict[str, Any]) -> dict[str, Any]:
    """Tables of tables laid over one another, the last on top."""
    out: dict[str, Any] = {}
    for table in tables:
        for key, value in table.items():
            old = out.get(key)
            out[key] = (
                {**old, **value} if isinstance(value, dict) and isinstance(old, dict) else value
            )
    return out


def _focus(disc_px: float, distance_m: float = 18.0) -> dict[str, Any]:
    """A lens focused too near, so that the disc of defocus is so wide (thin lens, by hand)."""
    f, n, pitch = 12e-3, 1.6, 2.9e-6
    inverse = 1.0 / distance_m + disc_px * pitch * n / f**2
    return {"lens": {"focus_m": 1.0 / inverse}}


def _moving(px: float, heading_deg: float, shutter_s: float = 0.02) -> tuple[dict, dict]:
    """A plate that crosses so many pixels during the exposure, were it to move across."""
    per_m = 12e-3 / 2.9e-6 / 18.0
    speed = px / per_m / shutter_s * 3.6
    return (
        {"speed_kmh": speed, "heading_deg": heading_deg},
        {"exposure": {"shutter_s": shutter_s, "metering": "centre"}},
    )


def conditions() -> list[Condition]:
    """All conditions, kind by kind."""
    out: list[Condition] = []

    def add(
        kind: str,
        told: str,
        *,
        scene: dict[str, Any] | None = None,
        camera: dict[str, Any] | None = None,
        plate: dict[str, Any] | None = None,
        distance_m: float = 18.0,
        lux: float = 2000.0,
    ) -> None:
        n = len(out)
        design = DESIGNS[(n // 2) % len(DESIGNS)]
        out.append(
            Condition(
                kind, n, told, design, scene or {}, camera or {}, plate or {}, distance_m, lux
            )
        )

    for disc in (5.0, 6.0, 6.0, 7.0, 7.0, 7.6):
        add("defocus", f"disc {disc:g} px", camera=_focus(disc))
    for px, heading in ((5.5, 90), (6.5, 90), (6.0, 90), (7.2, 270), (6.0, 75), (7.5, 250)):
        plate, camera = _moving(px, heading)
        add("motion", f"{px:g} px, heading {heading} deg", lux=WELL_LIT, plate=plate, camera=camera)
    for px, heading in ((26, 0), (32, 0), (24, 0), (20, 10)):
        plate, camera = _moving(px, heading)
        add("motion", f"{px} px along, heading {heading} deg, from above", lux=WELL_LIT,
            plate=plate, camera=camera,
            scene={"station": {"height_m": 7.0, "aim_m": [0.0, 18.0, 1.0]}})  # fmt: skip
    for px, disc in ((3, 4.5), (2.5, 5.5), (4, 4.5), (4.5, 3.5), (5, 3.5), (4, 6.5)):
        plate, camera = _moving(px, 90)
        add("motion with defocus", f"{px:g} px, disc {disc:g} px", lux=WELL_LIT, plate=plate,
            camera=merged(camera, _focus(disc)))  # fmt: skip
    for visibility in (140.0, 115.0, 95.0, 80.0, 70.0, 60.0):
        add("fog", f"visibility {visibility:g} m",
            scene={"air": {"visibility_m": visibility, "kind": "fog"}})  # fmt: skip
    for glare, lux in ((0.2, 1.5), (0.3, 1.5), (0.3, 4.0), (0.45, 8.0), (0.45, 5.0), (0.3, 2.0)):
        add("glare", f"veiling glare index {glare:g}, {lux:g} lx", lux=lux,
            camera={"lens": {"glare_index": glare}, "day_night": {"mode": "day"}})  # fmt: skip
    for gain in (26.0, 27.5, 26.0, 28.0, 27.0, 28.0):
        add("clipping", f"overexposed, gain {gain:g} dB",
            camera={"exposure": {"shutter_s": 0.002, "gain_db": gain}})  # fmt: skip
    for lux, spatial, temporal, sharp in (
        (0.4, 0.9, 0.0, 0.3), (0.2, 0.2, 0.8, 0.3), (0.2, 0.7, 0.7, 1.5), (0.2, 0.9, 0.9, 0.0),
        (0.4, 0.0, 0.9, 0.3), (0.4, 1.0, 0.6, 2.5),
    ):  # fmt: skip
        made = {
            "noise_reduction": spatial, "temporal_noise_reduction": temporal, "sharpening": sharp
        }  # fmt: skip
        add("processing", f"{lux:g} lx, noise reduction {spatial:g}, temporal {temporal:g},"
            f" sharpening {sharp:g}", lux=lux,
            camera={"processing": made, "day_night": {"mode": "night"}})  # fmt: skip
    for rate, lux in (
        (60.0, 2.0), (40.0, 2.5), (80.0, 1.5), (40.0, 3.5), (24.0, 4.0), (16.0, 6.0),
    ):  # fmt: skip
        add("compression", f"{rate:g} kbit/s, {lux:g} lx", lux=lux,
            camera={"stream": {"codec": "h264", "bitrate_kbit_s": rate},
                    "day_night": {"mode": "day"}})  # fmt: skip
    for lux, ratio in (
        (1.5, 16.0), (1.2, 16.0), (1.4, 16.0), (2.0, 64.0), (1.2, 64.0), (1.6, 32.0),
    ):  # fmt: skip
        add("wide range", f"{lux:g} lx, two exposures 1:{ratio:g}", lux=lux,
            camera={"wide_range": {"method": "exposures", "ratio": ratio},
                    "day_night": {"mode": "day"}})  # fmt: skip
    for lux in (0.5, 0.36, 0.7, 0.5, 0.4, 0.3):
        add("low light, grey", f"{lux:g} lx, night mode", lux=lux,
            camera={"day_night": {"mode": "night"}})  # fmt: skip
    for lux in (1.6, 1.3, 1.1, 0.9, 0.75, 0.6):
        add("low light, colour", f"{lux:g} lx, day mode", lux=lux,
            camera={"day_night": {"mode": "day"}})  # fmt: skip
    for distance in (33.0, 36.0, 36.0, 39.0, 40.0, 44.0):
        add("few pixels", f"{distance:g} m", distance_m=distance,
            camera={"lens": {"focus_m": distance}})  # fmt: skip
    for turn, distance in (
        (57.0, 18.0), (62.0, 18.0), (60.0, 18.0), (64.0, 18.0), (45.0, 28.0), (50.0, 30.0),
    ):  # fmt: skip
        add("oblique view", f"plate turned {turn:g} deg, {distance:g} m", distance_m=distance,
            plate={"facing_deg": turn}, camera={"lens": {"focus_m": distance}})  # fmt: skip
    return out
