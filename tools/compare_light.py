"""Compares our light with an independent path tracer and writes docs/light.md.

    python tools/compare_light.py

Figures, pictures side by side and the map of differences are written anew, from what
`tools/light_reference.py` has stored of the path tracer.
"""

# ruff: noqa: E501 - lines of the page
from __future__ import annotations

import sys
import time
from pathlib import Path

import cv2
import numpy as np

sys.path.insert(0, str(Path(__file__).parent))
from light_reference import (
    HEIGHT,
    PATHS,
    SPOT_PATHS,
    STORED,
    WIDTH,
    Site,
    edges,
    our_lux,
    ours,
    sites,
)

from simulator.scene import Scene, build_world
from simulator.scene.radiosity import field as fields
from simulator.scene.rays import RayCaster

ROOT = Path(__file__).parents[1]
SHOWN = 6
BUNDLED = ("loading-bay-dusk", "car-park-led", "yard-noon", "doorway-noon")
TEXT = """# Light against a path tracer

What our renderer makes of light in whole scenes (direct light, soft shadows, sky between walls, all
bounces), beside Mitsuba 3 with all bounces. Grey matt surfaces, Lambertian disc lamps, an even sky;
`tools/compare_light.py` writes this page anew. Left ours, middle the path tracer, right the
difference: grey is none, white +25 %, black -25 %. {width} x {height} pixels, {samples} paths a
pixel; the path tracer's own noise is part of what differs, most of all where little light comes.

| Scene | median of the difference | 99th percentile | mean difference | pixels counted |
|---|---|---|---|---|
{rows}

Counted are all pixels away from edges: those on a rim of things or on a shadow edge of a lamp, and their neighbours, are
left out, told by geometry alone.

Illuminance at places that matter ({spot_paths} paths):

| Scene | Place | ours [lx] | path tracer [lx] | difference |
|---|---|---|---|---|
{spots}

{pictures}

## How it is done

- Surfaces are cut into leaves, fine near other things and lamps, coarse elsewhere; ground and both sides of every card by
  quarters, solid bodies by clusters of triangles. A leaf is a patch of the radiosity; its light is told at nodes and
  interpolated between them, on the ground every 3 cm at contacts. Leaves are cut along the feet of what stands on them, and
  no node lies across a foot: no light leaks under a wall.
- Form factors and the sky that is seen: rays of cosine-weighted directions on a spiral, the same everywhere, so that there is
  no noise ({parts} a leaf, {nodes} a node, {corners} a node of a body). Above and below the horizon they are weighted so that
  an open place has just the sky and ground that it must.
- One set of form factors serves all lights in ten spectral bands; what comes out is kept for one unit of each light, so that a
  dimmed lamp stays a weighted sum of layers. Natural light that bounces is told with the light off the ground.
- Lamps have a face (`diameter_m`, `emitter_width_m`), the sun 0.53 degrees. The share of it that is hidden is exact where one
  opaque card's rim crosses it, sampled evenly at 48 places elsewhere.
- Things that move have the light of the moment judged.

## Time

Radiosity of bundled scenes, once, then kept in memory and on disk by content (processor time; {cores} core(s)):

| Scene | triangles | leaves | nodes | made [s] | kept [s] |
|---|---|---|---|---|---|
{times}

Ray casting: embree meets {embree:.1f} million rays a second of processor time in the scene `car-park-led` (float32); a loop
over all triangles in numpy {plain:.3f} million.

## Known limits

- Inside a spectral band light keeps the shape of its lamp's spectrum.
- Clear coats mirror what patches send, interpolated between their nodes, once: things seen in a coat are softer than they
  are, and have no drawing on them. Panes let light through without loss.
- Deep in a room, light that comes through a door far away is seen by few of a node's directions: up to 20 % off in places.
"""


def picture(site: Site, a: np.ndarray, b: np.ndarray) -> str:
    """Writes ours, the reference and the difference side by side; the name of the file."""
    white = np.percentile(b[b > 0.0], 97.0)
    tone = [np.clip(x / white, 0.0, 1.0) ** (1.0 / 2.2) for x in (a, b)]
    off = np.where(b > 0.0, (a - b) / np.maximum(b, 1e-9), 0.0)
    whole = np.concatenate([*tone, np.clip(0.5 + 2.0 * off, 0.0, 1.0)], axis=1)
    name = f"light-{site.name.replace(' ', '-')}.png"
    grown = cv2.resize(whole, None, fx=SHOWN, fy=SHOWN, interpolation=cv2.INTER_NEAREST)
    cv2.imwrite(str(ROOT / "docs" / name), (255.0 * grown + 0.5).astype(np.uint8))
    return name


def row(site: Site, a: np.ndarray, b: np.ndarray) -> str:
    """Figures of one scene as a row of the table."""
    even = ~edges(site, WIDTH, HEIGHT) & (b > 0.0)
    off = (a - b)[even] / b[even]
    return (
        f"| {site.name} | {100 * np.median(np.abs(off)):.1f} % "
        f"| {100 * np.percentile(np.abs(off), 99.0):.1f} % | {100 * off.mean():+.1f} % "
        f"| {100 * even.mean():.0f} % |"
    )


def spot_rows(site: Site, known: np.ndarray) -> list[str]:
    """Illuminance at the named places of a scene as rows of a table."""
    return [
        f"| {site.name} | {name} | {a:.3g} | {b:.3g} | {100 * (a / b - 1.0):+.1f} % |"
        for (name, _, _), a, b in zip(site.spots, our_lux(site), known, strict=True)
    ]


def timed(name: str) -> str:
    """Time of a bundled scene's radiosity as a row of the table."""
    world = build_world(Scene.load(name).model)
    fields.make(world)  # compiles
    fields.forget()
    start = time.process_time()
    field = fields.make(world)
    made = time.process_time() - start
    fields.light_field(world)
    start = time.process_time()
    fields.light_field(world)
    kept = time.process_time() - start
    triangles = len(RayCaster.of(world).surfaces)
    return (
        f"| {name} | {triangles} | {field.leaves.many} | {len(field.sky)} "
        f"| {made:.2f} | {kept:.3f} |"
    )


def rays_per_second() -> tuple[float, float]:
    """Millions of rays a second by embree and by a plain loop over triangles."""
    world = build_world(Scene.load("car-park-led").model)
    caster = RayCaster.of(world)
    rng = np.random.default_rng(1)
    origins = rng.uniform([-5.0, 2.0, 0.01], [5.0, 20.0, 4.0], (400_000, 3)).astype(np.float32)
    ways = rng.standard_normal(origins.shape).astype(np.float32)
    start = time.process_time()
    caster.first_triangles(origins, ways)
    embree = 0.4 / (time.process_time() - start)
    mesh = world.meshes[0]
    a, b, c = mesh.vertices_m[mesh.triangles].transpose(1, 0, 2)
    start = time.process_time()
    for k in range(20):
        p = np.cross(ways[k], c - a)
        det = np.einsum("ij,ij->i", b - a, p)
        with np.errstate(divide="ignore", invalid="ignore"):
            s = origins[k] - a
            u = np.einsum("ij,ij->i", s, p) / det
            q = np.cross(s, b - a)
            t = np.einsum("ij,ij->i", c - a, q) / det
        np.min(np.where((u >= 0.0) & (t > 0.0), t, np.inf))
    return embree, 20e-6 / (time.process_time() - start)


def main() -> None:
    """Writes the page."""
    from simulator.scene.radiosity import solve  # noqa: PLC0415

    rows, spots, pictures = [], [], []
    with np.load(STORED) as file:
        stored = dict(file)
    for k, site in enumerate(sites()):
        a, b = ours(site, WIDTH, HEIGHT), stored[f"luminance_{k}"]
        rows.append(row(site, a, b))
        spots += spot_rows(site, stored[f"lux_{k}"])
        pictures.append(f"{site.name}:\n\n![{site.name}]({picture(site, a, b)})")
        print(rows[-1])
    embree, plain = rays_per_second()
    text = TEXT.format(
        width=WIDTH, height=HEIGHT, samples=f"{min(PATHS)} to {max(PATHS)}",
        rows="\n".join(rows), spots="\n".join(spots), spot_paths=SPOT_PATHS,
        pictures="\n\n".join(pictures), parts=solve.PARTS**2 * solve.PART_RAYS,
        nodes=solve.NODE_RAYS, corners=solve.CORNER_RAYS, cores=1,
        times="\n".join(timed(name) for name in BUNDLED), embree=embree, plain=plain,
    )  # fmt: skip
    (ROOT / "docs" / "light.md").write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
