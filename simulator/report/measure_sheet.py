"""A camera's measurement on one page: signal to noise, colours, transfer, trails."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from simulator.camera.tone import encode_tone
from simulator.report.fitting import fit_text
from simulator.report.inks import INK, PAPER, RULE, SOFT
from simulator.studies.folder import result_folder
from simulator.studies.measure import Measured
from simulator.studies.provenance import versions

if TYPE_CHECKING:
    from matplotlib.axes import Axes

DPI = 120
BLUE = "#1f5f8b"


def save_measurement(folder: Path, found: Measured) -> Path:
    """Write sheet.png, verdict.json and inputs/, whole or not at all.

    Raises
    ------
    OutputError
        If it cannot be written there.
    """
    with result_folder(folder) as place:
        draw_measurement(place / "sheet.png", found)
        inputs = place / "inputs"
        inputs.mkdir()
        found.camera.save(inputs / "camera.toml")
        (place / "verdict.json").write_text(
            json.dumps(found.to_dict(), indent=2, ensure_ascii=False, allow_nan=False) + "\n",
            encoding="utf-8",
        )
    return folder


def draw_measurement(path: Path, found: Measured) -> None:
    """Write the page as a PNG."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(13.0, 8.6), dpi=DPI, facecolor=PAPER)
    table = found.to_dict()
    title = fit_text(table["title"], 12.2, (17, 14, 12), 1, bold=True)
    figure.text(0.035, 0.975, title.text, size=title.size, weight="bold", color=INK, va="top")
    answer = fit_text(table["answer"], 12.2, (11.5, 10, 9), 1)
    figure.text(0.035, 0.927, answer.text, size=answer.size, color=INK, va="top")
    _noise(figure.add_axes((0.07, 0.53, 0.4, 0.32)), found)
    _transfer(figure.add_axes((0.07, 0.1, 0.4, 0.32)), found)
    for k, name in enumerate(found.charts):
        left, down = 0.53 + 0.235 * (k % 2), 0.565 - 0.29 * (k // 2)
        _chart(figure.add_axes((left, down, 0.215, 0.25)), found, name)
    lines = [
        "trail of a bar (6 px a frame): "
        + "; ".join(f"{f:.1f} frames at {g:.0f} dB" for g, f, _ in found.trails),
        "patches: outside as wanted, inside as the camera shows them; CIEDE2000 mean and largest",
    ]
    figure.text(0.53, 0.235, "\n".join(lines), size=9, color=SOFT, va="top", linespacing=1.5)
    figure.text(
        0.53, 0.165, "\n".join(_wrapped(table["conditions"])), size=8, color=SOFT, va="top",
        linespacing=1.4,
    )  # fmt: skip
    figure.savefig(path, dpi=DPI, metadata={"Software": f"nightproof {versions()['nightproof']}"})


def _wrapped(sentences: list[str]) -> list[str]:
    import textwrap

    return [line for s in sentences for line in textwrap.wrap(s, 88, subsequent_indent="  ")]


def _noise(axes: Axes, found: Measured) -> None:
    r = found.range_
    used = (r.snr > 0.3) & (r.light_e < 0.93 * r.saturation_e) & np.isfinite(r.snr)
    axes.plot(r.light_e[used], 20.0 * np.log10(r.snr[used]), color=BLUE, linewidth=1.8)
    # the curve rises: room is above it on the left, below it on the right
    for at, text, side, high in (
        (r.least_e, f"signal = noise\n{r.least_e:.1f} e$^-$", "left", 0.97),
        (r.saturation_e, f"saturated\n{r.saturation_e:.0f} e$^-$", "right", 0.14),
    ):
        axes.axvline(at, color=INK, linewidth=1.0, linestyle=(0, (6, 3)))
        shift = 1.12 if side == "left" else 1 / 1.12
        axes.text(at * shift, high, text, size=8.5, color=INK, ha=side, va="top",
                  transform=axes.get_xaxis_transform())  # fmt: skip
    axes.set_xscale("log")
    axes.set_ylim(bottom=-8)
    axes.set_xlabel("light on a pixel of the longest exposure [e$^-$]", size=9.5)
    axes.set_ylabel("signal to noise [dB]", size=9.5)
    axes.set_title(f"Dynamic range {r.measured_db:.1f} dB", size=11, weight="bold", loc="left")
    axes.grid(color=RULE, linewidth=0.6)
    axes.tick_params(labelsize=8.5, colors=SOFT)


def _transfer(axes: Axes, found: Measured) -> None:
    s = found.sharp
    axes.plot(s.frequency, s.value, color=BLUE, linewidth=1.8)
    axes.axvline(0.5, color=SOFT, linewidth=0.9, linestyle=":")
    axes.text(0.505, 0.95, "Nyquist", size=8.5, color=SOFT, va="top")
    axes.axvline(s.half_cycles_px, color=INK, linewidth=1.0, linestyle=(0, (6, 3)))
    axes.set_xlim(0, 1)
    axes.set_ylim(0, 1)
    axes.set_xlabel("frequency [cycles/px]", size=9.5)
    axes.set_ylabel("transfer of lens and pixel", size=9.5)
    axes.set_title(
        f"Transfer of a half at {s.half_cycles_px:.3f} cycles/px,"
        f" {s.lines:.0f} line widths per height",
        size=10, weight="bold", loc="left",
    )  # fmt: skip
    axes.grid(color=RULE, linewidth=0.6)
    axes.tick_params(labelsize=8.5, colors=SOFT)


def _chart(axes: Axes, found: Measured, name: str) -> None:
    from matplotlib.patches import Rectangle

    chart = found.charts[name]
    for k in range(24):
        x, y = k % 6, k // 6
        wanted = np.clip(encode_tone(np.clip(chart.wanted[k], 0, 1), "srgb"), 0, 1)
        shown = np.clip(encode_tone(np.clip(chart.linear[k], 0, 1), "srgb"), 0, 1)
        axes.add_patch(Rectangle((x + 0.04, y + 0.04), 0.92, 0.92, color=tuple(wanted)))
        axes.add_patch(Rectangle((x + 0.26, y + 0.26), 0.48, 0.48, color=tuple(shown)))
    axes.set_xlim(0, 6)
    axes.set_ylim(4, 0)
    axes.set_aspect("equal")
    axes.axis("off")
    d = chart.difference
    axes.set_title(f"{name}: {d.mean():.1f}, {d.max():.1f}", size=9.5, color=INK, loc="left")
