"""Conditions under which whole cameras picture plates for readers to be compared on.

Fourteen kinds of impairment, each from mild to hopeless. Every condition is a scene and a camera as
their files would say it. Those chosen by hand (`chosen`) and a first draw (`drawn`) are there to be
fitted to; a second draw, with other texts, strengths, sizes and designs, is held out from any fit.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

DESIGNS = (
    "dark-on-white-520x110",
    "dark-on-white-520x111-wide",
    "light-on-blue-440x140",
    "dark-on-yellow-520x110",
)
MORE_DESIGNS = (
    *DESIGNS,
    "dark-on-white-520x110-narrow",
    "light-on-dark-520x110",
    "dark-on-yellow-520x111-wide",
    "dark-on-white-305x152",
)
"""Designs that are drawn from; the last four are in no condition chosen by hand."""
TEXT = "K2W8 R4D"
"""The text that random ones are grouped like."""
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
    plate's own; `changed` says in words what was changed, `held_out` whether no fit may see it."""

    kind: str
    number: int
    changed: str
    design: str
    scene: dict[str, Any]
    camera: dict[str, Any]
    plate: dict[str, Any]
    distance_m: float
    lux: float
    held_out: bool = False


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


def _focus(disc_px: float, distance_m: float = 18.0, focal_mm: float = 12.0) -> dict[str, Any]:
    """A lens focused too near, so that the disc of defocus is so wide (thin lens, by hand)."""
    f, n, pitch = focal_mm / 1e3, 1.6, 2.9e-6
    inverse = 1.0 / distance_m + disc_px * pitch * n / f**2
    return {"lens": {"focus_m": 1.0 / inverse}}


def _moving(
    px: float, heading_deg: float, shutter_s: float = 0.02, focal_mm: float = 12.0
) -> tuple[dict, dict]:
    """A plate that crosses so many pixels during the exposure, were it to move across."""
    per_m = focal_mm / 1e3 / 2.9e-6 / 18.0
    speed = px / per_m / shutter_s * 3.6
    return (
        {"speed_kmh": speed, "heading_deg": heading_deg},
        {"exposure": {"shutter_s": shutter_s, "metering": "centre"}},
    )


def conditions() -> list[Condition]:
    """All conditions: chosen, drawn to be fitted to, drawn to be held out."""
    out = [*chosen(), *drawn(FIT_SEED, len(chosen()), held_out=False)]
    out += drawn(TEST_SEED, len(out), held_out=True)
    out += clear(FIT_SEED, len(out), held_out=False)
    return [*out, *clear(TEST_SEED, len(out), held_out=True)]


def chosen() -> list[Condition]:
    """Conditions chosen by hand, kind by kind."""
    out: list[Condition] = []

    def add(
        kind: str,
        changed: str,
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
                kind, n, changed, design, scene or {}, camera or {}, plate or {}, distance_m, lux
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


FIT_SEED, TEST_SEED = 71, 2_027
DRAWS = 8
"""Conditions of each kind in a draw."""
FROM_ABOVE = {"station": {"height_m": 7.0, "aim_m": [0.0, 18.0, 1.0]}}
HEIGHT_PX = 75.0 / 18.0 * 12.0 / 2.9
"""Height of 75 mm at 18 m behind 12 mm [px]."""


def drawn(seed: int, start: int, *, held_out: bool) -> list[Condition]:
    """Conditions with strength, size and design drawn at random, `DRAWS` of each kind."""
    out: list[Condition] = []
    for kind, draw in KINDS.items():
        rng = np.random.default_rng([seed, len(out)])
        for n in range(DRAWS):
            design = MORE_DESIGNS[rng.integers(len(MORE_DESIGNS))]
            # strengths are spread evenly over their range, each jittered within its part
            strength = (n + rng.random()) / DRAWS
            focal = float(rng.uniform(9.0, 16.0))
            changed, tables = draw(strength, focal, rng)
            lens = {"lens": {"focal_length_mm": focal}}
            out.append(
                Condition(
                    kind, start + len(out), changed, design, tables.get("scene", {}),
                    merged(lens, tables.get("camera", {})), tables.get("plate", {}),
                    tables.get("distance_m", 18.0), tables.get("lux", 2000.0), held_out,
                )
            )  # fmt: skip
    return out


def clear(seed: int, start: int, *, held_out: bool) -> list[Condition]:
    """Plates of all sizes with nothing wrong: what reads these seldom is of no use."""
    out: list[Condition] = []
    rng = np.random.default_rng([seed, 999])
    for n in range(DRAWS):
        design = MORE_DESIGNS[rng.integers(len(MORE_DESIGNS))]
        distance = 18.0 * 14.0 / _between(9.0, 45.0, (n + rng.random()) / DRAWS)
        lux = _between(50.0, 3000.0, rng.random())
        lens = {"focal_length_mm": 14.0, "focus_m": distance}
        camera = {"lens": lens, "sensor": {"width_px": 960}}
        text = f"{lux:.0f} lx, {distance:.0f} m"
        out.append(
            Condition("clear", start + n, text, design, {}, camera, {}, distance, lux, held_out)
        )
    return out


Drawn = tuple[str, dict[str, Any]]


def _between(low: float, high: float, strength: float) -> float:
    """From low to high by equal ratios."""
    return float(low * (high / low) ** strength)


def _high(focal: float) -> float:
    return HEIGHT_PX * focal / 12.0


def _draw_defocus(strength: float, focal: float, rng: np.random.Generator) -> Drawn:
    disc = _high(focal) * _between(0.26, 0.46, strength)
    return f"disc {disc:.1f} px", {"camera": _focus(disc, focal_mm=focal)}


def _draw_motion(strength: float, focal: float, rng: np.random.Generator) -> Drawn:
    if rng.random() < 0.4:
        px = _high(focal) * _between(0.8, 1.9, strength)
        heading = float(rng.uniform(-12.0, 12.0))
        plate, camera = _moving(px, heading, focal_mm=focal)
        text = f"{px:.0f} px along, heading {heading:.0f} deg, from above"
        return text, {"lux": WELL_LIT, "plate": plate, "camera": camera, "scene": FROM_ABOVE}
    px = _high(focal) * _between(0.26, 0.46, strength)
    heading = float(rng.choice([90.0, 270.0])) + float(rng.uniform(-25.0, 25.0))
    plate, camera = _moving(px, heading, focal_mm=focal)
    text = f"{px:.1f} px, heading {heading:.0f} deg"
    return text, {"lux": WELL_LIT, "plate": plate, "camera": camera}


def _draw_both(strength: float, focal: float, rng: np.random.Generator) -> Drawn:
    angle = float(rng.uniform(0.25, 1.3))
    size = _high(focal) * _between(0.28, 0.46, strength)
    px, disc = size * np.cos(angle), size * np.sin(angle)
    plate, camera = _moving(px, float(rng.choice([90.0, 270.0])), focal_mm=focal)
    tables = {"lux": WELL_LIT, "plate": plate,
              "camera": merged(camera, _focus(disc, focal_mm=focal))}  # fmt: skip
    return f"{px:.1f} px, disc {disc:.1f} px", tables


def _draw_fog(strength: float, focal: float, rng: np.random.Generator) -> Drawn:
    visibility = _between(160.0, 55.0, strength)
    air = {"visibility_m": visibility, "kind": "fog"}
    return f"visibility {visibility:.0f} m", {"scene": {"air": air}}


def _draw_glare(strength: float, focal: float, rng: np.random.Generator) -> Drawn:
    glare, lux = float(rng.uniform(0.15, 0.5)), _between(9.0, 1.2, strength)
    camera = {"lens": {"glare_index": glare}, "day_night": {"mode": "day"}}
    return f"veiling glare index {glare:.2f}, {lux:.1f} lx", {"lux": lux, "camera": camera}


def _draw_clipping(strength: float, focal: float, rng: np.random.Generator) -> Drawn:
    gain = 25.0 + 4.0 * strength
    camera = {"exposure": {"shutter_s": 0.002, "gain_db": gain}}
    return f"overexposed, gain {gain:.1f} dB", {"camera": camera}


def _draw_processing(strength: float, focal: float, rng: np.random.Generator) -> Drawn:
    lux = _between(0.6, 0.18, strength)
    spatial, temporal, sharp = rng.uniform(0, 1), rng.uniform(0, 0.95), rng.uniform(0, 2.5)
    made = {"noise_reduction": float(spatial), "temporal_noise_reduction": float(temporal),
            "sharpening": float(sharp)}  # fmt: skip
    text = (f"{lux:.2f} lx, noise reduction {spatial:.2f}, temporal {temporal:.2f},"
            f" sharpening {sharp:.1f}")  # fmt: skip
    return text, {"lux": lux, "camera": {"processing": made, "day_night": {"mode": "night"}}}


def _draw_compression(strength: float, focal: float, rng: np.random.Generator) -> Drawn:
    rate, lux = _between(100.0, 16.0, rng.random()), _between(7.0, 1.4, strength)
    camera = {"stream": {"codec": "h264", "bitrate_kbit_s": rate}, "day_night": {"mode": "day"}}
    return f"{rate:.0f} kbit/s, {lux:.1f} lx", {"lux": lux, "camera": camera}


def _draw_wide_range(strength: float, focal: float, rng: np.random.Generator) -> Drawn:
    ratio, lux = float(rng.choice([8.0, 16.0, 32.0, 64.0])), _between(2.8, 0.9, strength)
    camera = {"wide_range": {"method": "exposures", "ratio": ratio}, "day_night": {"mode": "day"}}
    return f"{lux:.1f} lx, two exposures 1:{ratio:g}", {"lux": lux, "camera": camera}


def _draw_grey(strength: float, focal: float, rng: np.random.Generator) -> Drawn:
    lux = _between(1.0, 0.25, strength)
    return f"{lux:.2f} lx, night mode", {"lux": lux, "camera": {"day_night": {"mode": "night"}}}


def _draw_colour(strength: float, focal: float, rng: np.random.Generator) -> Drawn:
    lux = _between(2.2, 0.55, strength)
    return f"{lux:.2f} lx, day mode", {"lux": lux, "camera": {"day_night": {"mode": "day"}}}


def _draw_few(strength: float, focal: float, rng: np.random.Generator) -> Drawn:
    distance = 18.0 * _high(focal) / _between(11.0, 7.0, strength)
    camera = {"lens": {"focus_m": distance}}
    return f"{distance:.0f} m behind {focal:.0f} mm", {"distance_m": distance, "camera": camera}


def _draw_oblique(strength: float, focal: float, rng: np.random.Generator) -> Drawn:
    turn = 46.0 + 20.0 * strength
    distance = 18.0 * float(rng.uniform(0.9, 1.6)) * focal / 12.0
    text = f"plate turned {turn:.0f} deg, {distance:.0f} m behind {focal:.0f} mm"
    camera = {"lens": {"focus_m": distance}}
    return text, {"distance_m": distance, "camera": camera, "plate": {"facing_deg": turn}}


def _draw_mixed(strength: float, focal: float, rng: np.random.Generator) -> Drawn:
    """Some blur, some haze and some noise at once, in the proportions of a random direction."""
    part = rng.dirichlet([1.0, 1.0, 1.0, 1.0]) * (0.5 + 0.6 * strength)
    high = _high(focal)
    px, disc = high * 0.5 * part[0], high * 0.5 * part[1]
    visibility, lux = _between(900.0, 50.0, min(1.0, part[2])), _between(9.0, 0.5, part[3])
    plate, camera = _moving(px, 90.0, 0.02, focal)
    text = f"{px:.1f} px, disc {disc:.1f} px, visibility {visibility:.0f} m, {lux:.1f} lx"
    air = {"visibility_m": visibility, "kind": "fog"}
    return text, {
        "lux": lux, "plate": plate, "scene": {"air": air},
        "camera": merged(camera, _focus(disc, focal_mm=focal), {"day_night": {"mode": "day"}}),
    }  # fmt: skip


KINDS = {
    "defocus": _draw_defocus,
    "motion": _draw_motion,
    "motion with defocus": _draw_both,
    "fog": _draw_fog,
    "glare": _draw_glare,
    "clipping": _draw_clipping,
    "processing": _draw_processing,
    "compression": _draw_compression,
    "wide range": _draw_wide_range,
    "low light, grey": _draw_grey,
    "low light, colour": _draw_colour,
    "few pixels": _draw_few,
    "oblique view": _draw_oblique,
    "several at once": _draw_mixed,
}
