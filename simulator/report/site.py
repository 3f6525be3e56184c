"""The site drawing: plan, side view, light on the target's plane, and who lights it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator.errors import OutputError
from simulator.judge.density import CLASSES_PX_PER_M
from simulator.report.fitting import fit_text
from simulator.report.inks import INFRARED, INK, PAPER, RULE, SOFT, VIEW, VISIBLE_LIGHT
from simulator.report.labels import Labels
from simulator.report.light_map import draw_light_map, quiet
from simulator.report.pictures import refuse_foreign_picture, save_figure
from simulator.report.wording import three_digits
from simulator.report.wording.light import light_words
from simulator.scene.geometry import Card
from simulator.studies.folder import whole_file
from simulator.studies.provenance import versions
from simulator.studies.survey.site import PART, LightRow, Site
from simulator.units import FloatArray

if TYPE_CHECKING:
    from matplotlib.axes import Axes

WIDTH_IN, HEIGHT_IN, DPI = 15.0, 10.2, 110
PLAN_PLACE = (0.05, 0.445, 0.56, 0.435)
SIDE_IN, MOUNTING_DPI = 2.4, 150


def write_site(path: Path, site: Site) -> None:
    """Write the site drawing as a PNG, whole or not at all.

    Raises
    ------
    OutputError
        If it cannot be written there, or something else is in the way.
    """
    if path.suffix.lower() != ".png":
        raise OutputError(
            "The drawing is a PNG file.", file=path, given=path.suffix or "a name without ending",
            fix=f"name it {path.stem}.png",
        )  # fmt: skip
    refuse_foreign_picture(path)
    text = {
        "Software": f"nightproof {versions()['nightproof']}",
        "Title": site.scene.model.title,
        "Comment": f"site of scene {site.scene.name}",
    }
    with whole_file(path, "The picture cannot be written here.", parents=True) as part:
        draw_site(part, site, text)


def draw_site(path: Path, site: Site, text: dict[str, str]) -> None:
    """Draw the site into a PNG file."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(WIDTH_IN, HEIGHT_IN), dpi=DPI, facecolor=PAPER)
    model = site.scene.model
    lines: tuple[tuple[float, str, tuple[float, ...], dict[str, Any]], ...] = (
        (0.967, model.title, (17, 14, 12, 10), {"weight": "bold"}),
        (0.939, model.question, (12, 10.5, 9, 8), {"style": "italic"}),
        (0.915, f"Light: {light_words(model)}.", (9.5, 8.5, 7.5), {}),
    )
    for y, line, sizes, style in lines:
        fitted = fit_text(line, 8.6, sizes, 1, bold="weight" in style)
        figure.text(0.03, y, fitted.text, size=fitted.size, color=INK, va="center", **style)
    camera = site.in_scene.camera
    figure.text(0.97, 0.965, camera.title, size=10.5, color=SOFT, ha="right", va="center")
    figure.text(
        0.97, 0.94,
        f"{camera.lens.focal_length_mm:g} mm, f/{camera.lens.f_number:.1f},"
        f" {camera.sensor.width_px} x {camera.sensor.height_px} px of"
        f" {camera.sensor.pixel_pitch_um:g} µm",
        size=10.5, color=SOFT, ha="right", va="center",
    )  # fmt: skip
    reach = _reach(site)
    plan = figure.add_axes(PLAN_PLACE)
    side = figure.add_axes((0.05, 0.075, 0.56, 0.28), sharex=plan)
    _plan(plan, site, reach)
    _side(side, site, reach)
    infrared = site.irradiance_w_m2 > 0.0 or float(site.plane.irradiance_w_m2.max()) > 0.0
    draw_light_map(figure, (0.66, 0.70, 0.28, 0.20), site, "lux")
    if infrared:
        draw_light_map(figure, (0.66, 0.43, 0.28, 0.20), site, "irradiance_w_m2")
    _table(figure.add_axes((0.655, 0.06, 0.32, 0.29 if infrared else 0.53)), site)
    save_figure(figure, path, dpi=DPI, metadata=text)


def draw_mounting(path: Path, site: Site) -> None:
    """Draw plan and side view alone, for a document."""
    from matplotlib.figure import Figure

    plan_in = PLAN_PLACE[2] * WIDTH_IN, PLAN_PLACE[3] * HEIGHT_IN
    width, high = plan_in[0] + 0.9, plan_in[1] + SIDE_IN + 1.5
    figure = Figure(figsize=(width, high), dpi=MOUNTING_DPI, facecolor=PAPER)
    left, wide = 0.7 / width, plan_in[0] / width
    plan = figure.add_axes((left, (SIDE_IN + 1.15) / high, wide, plan_in[1] / high))
    side = figure.add_axes((left, 0.55 / high, wide, SIDE_IN / high), sharex=plan)
    reach = _reach(site)
    _plan(plan, site, reach)
    _side(side, site, reach)
    save_figure(figure, path, dpi=MOUNTING_DPI)


def _reach(site: Site) -> tuple[float, float, float]:
    """How far the drawing goes: nearest and farthest y, and half the width of the plan [m].

    The plan keeps its scale: width and depth follow the shape of its axes.
    """
    points = [site.in_scene.view.position_m, site.target.centre_m]
    points += [p for light in site.world.lights if (p := light.position_m) is not None]
    every = np.stack(points)
    far = max(float(site.target.centre_m[1]) * 1.35, float(every[:, 1].max()) + 2.0)
    near = min(float(every[:, 1].min()), float(site.in_scene.view.position_m[1])) - 1.5
    shape = PLAN_PLACE[3] * HEIGHT_IN / (PLAN_PLACE[2] * WIDTH_IN)
    need = min(max(2.0, float(np.abs(every[:, 0]).max()) + 1.0), far - near)
    far = max(far, near + 2.0 * need / shape)
    return near, far, (far - near) * shape / 2.0


def _ray_ends(site: Site, row: float, columns: Sequence[float], far: float) -> FloatArray:
    """Where the picture's edge rays reach the far end of the drawing, (n, 3) [m]."""
    view = site.in_scene.view
    out = []
    for x in columns:
        direction = view.direction(x, row)
        t = (far - view.position_m[1]) / direction[1] if direction[1] > 1e-6 else 0.0
        out.append(view.position_m + direction * t)
    return np.stack(out)


def _plan(axes: Axes, site: Site, reach: tuple[float, float, float]) -> None:
    near, far, half = reach
    axes.set_xlim(near, far)
    axes.set_ylim(half, -half)
    labels = Labels(axes, PAPER)
    view = site.in_scene.view
    ends = _ray_ends(site, view.height_px / 2, (0.0, float(view.width_px)), far)
    station, target = view.position_m, site.target.centre_m
    labels.keep_line_clear(_mark(station, 0), _mark(target, 0))
    for point in (station, target, *_points(site)):
        labels.keep_clear(_mark(point, 0))
    axes.fill(
        [station[1], ends[0, 1], ends[1, 1]],
        [station[0], ends[0, 0], ends[1, 0]],
        color=VIEW, alpha=0.10, linewidth=0,
    )  # fmt: skip
    for card in _standing(site):
        _edge(axes, card)
    axes.plot([station[1], target[1]], [station[0], target[0]], color=VIEW, lw=1.0, ls=(0, (4, 3)))
    axes.plot(*_mark(station, 0), marker="s", ms=8, color=VIEW)
    axes.plot(*_mark(target, 0), marker="D", ms=6, color=INK)
    labels.put(_mark(station, 0), "camera", VIEW)
    labels.put(_mark(target, 0), site.scene.model.task.target, INK)
    _motion(axes, site, labels)
    _lights(axes, site, labels, plan=True)
    _suns(axes, site, labels, 0.4 * half)
    _density_contours(axes, site, ends, labels)
    middle = ((station[1] + target[1]) / 2, (station[0] + target[0]) / 2)
    labels.put(middle, f"{math.dist(station, target):.1f} m", VIEW, sides=((0, 1), (0, -1)))
    axes.set_ylabel("to the camera's right [m]", size=9, color=SOFT)
    axes.set_title("Plan", loc="left", size=11, weight="bold", color=INK)
    quiet(axes)


def _density_contours(axes: Axes, site: Site, ends: FloatArray, labels: Labels) -> None:
    """Lines of equal pixel density across the view, with their number."""
    view = site.in_scene.view
    forward = view.axes[2]
    level = math.hypot(forward[0], forward[1])
    for density, name in CLASSES_PX_PER_M:
        depth = view.focal_px / density
        start = float(np.linalg.norm(ends[0] - view.position_m))
        if depth * level > start or depth < 0.5:
            continue
        half = depth * view.width_px / 2 / view.focal_px
        middle = view.position_m + forward * depth
        right = view.axes[0] * half
        a, b = middle - right, middle + right
        axes.plot([a[1], b[1]], [a[0], b[0]], color=VIEW, lw=0.9, alpha=0.8)
        up = ((0, 1), (1, 1), (-1, 1))
        labels.put((a[1], a[0]), f"{density:g} px/m, {name}", VIEW, size=8, sides=up)


def _edge(axes: Axes, card: Card) -> None:
    """A card seen from above: its upper edge."""
    ends = card.corners_m
    axes.plot(ends[:2, 1], ends[:2, 0], color=SOFT, lw=1.6, solid_capstyle="butt")


def _side(axes: Axes, site: Site, reach: tuple[float, float, float]) -> None:
    near, far, _ = reach
    view = site.in_scene.view
    station, target = view.position_m, site.target.centre_m
    highest = max([station[2], *(p[2] for p in _points(site))])
    axes.set_ylim(-0.4, highest * 1.25 + 0.8)
    axes.set_xlim(near, far)
    labels = Labels(axes, PAPER)
    labels.keep_line_clear(_mark(station, 2), _mark(target, 2))
    for point in (station, target, *_points(site)):
        labels.keep_clear(_mark(point, 2))
    middle = view.width_px / 2
    top = _ray_ends(site, 0.0, (middle,), far)[0]
    low = _ray_ends(site, float(view.height_px), (middle,), far)[0]
    axes.fill(
        [station[1], top[1], low[1]], [station[2], top[2], low[2]],
        color=VIEW, alpha=0.10, linewidth=0,
    )  # fmt: skip
    axes.axhline(0.0, color=INK, lw=1.2)
    for card in _standing(site):
        ends = card.corners_m
        axes.fill(ends[:, 1], ends[:, 2], facecolor="none", edgecolor=SOFT, lw=1.2)
    axes.plot([station[1], target[1]], [station[2], target[2]], color=VIEW, lw=1.0, ls=(0, (4, 3)))
    axes.plot([station[1], station[1]], [0.0, station[2]], color=VIEW, lw=2.0)
    axes.plot(station[1], station[2], marker="s", ms=8, color=VIEW)
    drop = math.degrees(math.atan2(station[2] - target[2], math.hypot(*(station[:2] - target[:2]))))
    way = "down" if drop >= 0.0 else "up"
    labels.put(
        _mark(station, 2),
        f"{station[2]:.1f} m high, looks {way} {abs(drop):.0f}° on the target",
        VIEW, sides=((1, 1), (1, -1)),
    )  # fmt: skip
    axes.plot(target[1], target[2], marker="D", ms=6, color=INK)
    _lights(axes, site, labels, plan=False)
    axes.set_xlabel("away from the camera [m]", size=9, color=SOFT)
    axes.set_ylabel("height [m]", size=9, color=SOFT)
    axes.set_title("Side", loc="left", size=11, weight="bold", color=INK)
    quiet(axes)


def _standing(site: Site) -> list[Card]:
    """Cards that are not level."""
    return [card for card in site.world.cards if abs(card.normal[2]) < 0.9]


def _points(site: Site) -> list[FloatArray]:
    """Places of the lamps."""
    lights = site.world.lights
    return [p for li in lights if (p := li.position_m) is not None and PART not in li.name]


def _lights(axes: Axes, site: Site, labels: Labels, plan: bool) -> None:
    """Lamps and illuminators with the edges of their beams at half intensity; openings bright."""
    across = 0 if plan else 2
    _openings(axes, site, labels, plan)
    for light in site.world.lights:
        place, axis = light.position_m, light.direction
        if light.kind != "point" or place is None or axis is None or PART in light.name:
            continue
        colour = INFRARED if light.spectrum.basis == "w_m2" else VISIBLE_LIGHT
        length = 0.8 * math.dist(place, site.target.centre_m)
        if light.beam == "cosine-power":
            half = math.acos(min(1.0, 0.5 ** (1.0 / light.exponent)))
            heading = math.atan2(axis[across], axis[1])
            flat = length * math.hypot(axis[1], axis[across])
            fan = np.linspace(heading - half, heading + half, 25)
            axes.fill(
                [place[1], *(place[1] + flat * np.cos(fan))],
                [place[across], *(place[across] + flat * np.sin(fan))],
                color=colour, alpha=0.08, linewidth=0,
            )  # fmt: skip
        axes.plot(place[1], place[across], marker="o", ms=7, color=colour)
        if plan or light.group == 0:
            labels.put(_mark(place, across), light.name, colour)


def _suns(axes: Axes, site: Site, labels: Labels, length_m: float) -> None:
    """Where sun and moon stand, as a line from the target with their height."""
    target = site.target.centre_m
    for light in site.world.lights:
        if light.kind != "sun" or light.direction is None or light.strength <= 0.0:
            continue
        tip = target[:2] + light.direction[:2] * length_m
        axes.plot([target[1], tip[1]], [target[0], tip[0]], color=VISIBLE_LIGHT, lw=1.2)
        axes.plot(tip[1], tip[0], marker="*", ms=10, color=VISIBLE_LIGHT)
        height = math.degrees(math.asin(float(light.direction[2])))
        labels.put((float(tip[1]), float(tip[0])), f"{light.name}, {height:.0f}° up", VISIBLE_LIGHT)


def _openings(axes: Axes, site: Site, labels: Labels, plan: bool) -> None:
    """Bright doorways, windows and panels: a thick line with their name."""
    for card in site.world.cards:
        if card.glow < 0:
            continue
        ends = card.corners_m[[0, 1] if plan else [0, 3]]
        across = ends[:, 0 if plan else 2]
        axes.plot(ends[:, 1], across, color=VISIBLE_LIGHT, lw=4.0, solid_capstyle="butt")
        labels.put((float(ends[0, 1]), float(across[0])), card.name, VISIBLE_LIGHT)


def _motion(axes: Axes, site: Site, labels: Labels) -> None:
    velocity = site.world.velocities[site.target.group]
    speed = float(np.linalg.norm(velocity))
    if speed == 0.0:
        return
    target = site.target.centre_m
    tip = target + velocity / speed * 2.0
    axes.annotate(
        "", (tip[1], tip[0]), (target[1], target[0]),
        arrowprops={"arrowstyle": "-|>", "color": INK, "lw": 1.4},
    )  # fmt: skip
    labels.put((tip[1], tip[0]), f"{3.6 * speed:.0f} km/h", INK, sides=((-1, 1), (-1, -1), (1, -1)))


def _mark(point: FloatArray, across: int) -> tuple[float, float]:
    return float(point[1]), float(point[across])


def _table(axes: Axes, site: Site) -> None:
    """Who lights the target: light, shares, distance, angle, and their sum."""
    axes.axis("off")
    axes.set_xlim(0, 1)
    axes.set_ylim(0, 1)
    axes.text(0, 1.0, "Who lights the target", size=11, weight="bold", color=INK, va="top")
    rows = [row for row in site.rows if row.quantity[0] > 0.0 or row.distance_m is not None]
    height = axes.get_position().height
    step = min(0.027 / height, 0.8 / (len(rows) + 4))
    y = 1.0 - 1.5 * step
    columns: list[tuple[float, str, Any]] = [
        (0.62, "light", None), (0.74, "share", None), (0.87, "distance", None),
        (1.0, "entrance", None),
    ]  # fmt: skip
    for x, name, _ in columns:
        axes.text(x, y, name, size=8.5, color=SOFT, ha="right", va="center")
    for row in rows:
        y -= step
        axes.plot([0, 1], [y + step / 2, y + step / 2], color=RULE, lw=0.6)
        _table_row(axes, y, row)
    y -= step
    axes.plot([0, 1], [y + step / 2, y + step / 2], color=INK, lw=0.9)
    total = f"{three_digits(site.lux)} lx"
    if site.irradiance_w_m2 > 0.0:
        total += f" and {three_digits(site.irradiance_w_m2)} W/m²"
    axes.text(0, y, "together", size=9.5, color=INK, va="center", weight="bold")
    axes.text(0.62, y, total, size=9.5, color=INK, va="center", ha="right", weight="bold")
    axes.text(
        0, y - 1.2 * step,
        "On the target's plane; shadows and the air on the way counted."
        "\nShares are of the lux or of the W/m²; what the camera makes"
        "\nof either depends on its filter and sensor.",
        size=8, color=SOFT, va="top",
    )  # fmt: skip


def _table_row(axes: Axes, y: float, row: LightRow) -> None:
    value, unit = row.quantity
    light = f"{three_digits(value)} {unit}" if value > 0.0 else "shaded or turned away"
    axes.text(0, y, row.name[:34], size=9, color=INK, va="center")
    cells = (
        (0.62, light),
        (0.74, f"{100 * row.share:.0f} %" if value > 0.0 else ""),
        (0.87, "" if row.distance_m is None else f"{row.distance_m:.1f} m"),
        (1.0, "" if row.entrance_deg is None else f"{row.entrance_deg:.0f}$\\degree$"),
    )
    for x, text in cells:
        axes.text(x, y, text, size=9, color=INK, ha="right", va="center")
