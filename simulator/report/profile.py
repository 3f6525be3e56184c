"""A camera profile from a datasheet in words: its commented file, and a table of what is known."""

from __future__ import annotations

import textwrap
from collections.abc import Mapping
from typing import NamedTuple

from simulator.messages import Message, Value
from simulator.report.wording import entry, filled, say
from simulator.studies.datasheet.figures import Datasheet
from simulator.studies.datasheet.solve import ASSUMED, GIVEN, SOLVED, UNKNOWABLE, Solution
from simulator.studies.new.camera import NewCamera
from simulator.toml_text import to_toml

WIDTH = 100
_REASONS = {
    "sensor": ("quantum_efficiency", "full_well_e", "read_noise_e"),
    "lens": ("transmittance",),
    "exposure": ("gain_max_db",),
}
"""Parameters of each part whose origin the file tells."""


class Row(NamedTuple):
    """One line of the table: given, solved, assumed or unknowable; what; how much; why."""

    kind: str
    name: str
    value: str
    why: str


def _row(kind: str, key: str, why: Message | None = None, /, **values: Value) -> Row:
    value = filled(entry("datasheet-value", key), values)
    return Row(kind, entry("datasheet-row", key), value, say(why) if why else "")


def _why(key: str, holds: bool = True) -> Message | None:
    return Message(f"datasheet-why.{key}") if holds else None


def _open_rows(solution: Solution) -> list[Row]:
    out = []
    for message in solution.unknowable:
        words = entry(*message.id.split("."))
        out.append(Row(UNKNOWABLE, words["what"], words["why"], ""))
    return out


def _given(sheet: Datasheet) -> list[Row]:
    by_type = sheet.pitch_from != "pitch"
    rows = [
        _row(GIVEN, "pixels", width_px=sheet.width_px, height_px=sheet.height_px),
        _row(
            SOLVED if by_type else GIVEN, "pixel-pitch", _why("pitch-by-format", by_type),
            pitch_um=sheet.pixel_pitch_um,
        ),
    ]  # fmt: skip
    if sheet.minimum is not None:
        keys = sheet.minimum.assumed
        usual = Message.of("datasheet-why.usual", conditions=keys) if keys else None
        kind = ASSUMED if keys else GIVEN
        rows.append(_row(kind, "minimum", usual, **vars(sheet.minimum)))
    if sheet.snr is not None:
        reduced = sheet.snr.measured_on == "picture-reduced"
        rows.append(_row(GIVEN, "snr", _why("noise-reduction", reduced), **vars(sheet.snr)))
    if sheet.dynamic_range is not None:
        rows.append(_row(GIVEN, "dynamic-range", **vars(sheet.dynamic_range)))
    return rows


def rows(made: NewCamera) -> list[Row]:
    """The table: given, then solved, then assumed, then what cannot be known."""
    solution, lens = made.solution, made.camera.model.lens
    origin = solution.origin

    def why(key: str, assumed: str = "") -> Message | None:
        return solution.why.get(key) or _why(assumed, bool(assumed) and origin[key] == ASSUMED)

    out = [
        *_given(made.sheet),
        _row(
            origin["quantum_efficiency"], "quantum-efficiency", why("quantum_efficiency"),
            table=solution.table,
        ),
        _row(
            origin["full_well_e"], "full-well", why("full_well_e", "full-well-assumed"),
            electrons=solution.full_well_e,
        ),
        _row(
            origin["read_noise_e"], "read-noise", why("read_noise_e", "read-noise-assumed"),
            electrons=solution.read_noise_e,
        ),
        _row(
            origin["gain_max_db"], "gain", why("gain_max_db", "gain-assumed"),
            db=solution.gain_max_db,
        ),
    ]  # fmt: skip
    if solution.transmittance_scale != 1.0:
        share = float(lens.transmittance)
        out.append(_row(SOLVED, "transmittance", _why("transmittance"), share=share))
    if made.at_minimum is not None:
        electrons, snr_db = made.at_minimum
        solved_by = {"electrons": electrons, "snr_db": snr_db}
        out.append(_row(SOLVED, "at-minimum", _why("one-pixel"), **solved_by))
    out.append(
        _row(
            ASSUMED, "lens", name=made.sheet.lens, lens_mm=lens.focal_length_mm,
            f_number=lens.f_number,
        )
    )  # fmt: skip
    out += _open_rows(solution)
    order = [GIVEN, SOLVED, ASSUMED, UNKNOWABLE]
    return sorted(out, key=lambda row: order.index(row.kind))


def text(made: NewCamera) -> str:
    """The profile's file: TOML with comments on where its numbers come from."""
    solution = made.solution
    lines = [_comment(entry("datasheet-file", "given"))]
    for row in _given(made.sheet):
        reason = f" ({row.why})" if row.kind == ASSUMED else ""
        lines.append(_comment(f"{row.name}: {row.value}{reason}", "#   "))
    lines += [_comment(entry("datasheet-file", "open"))]
    lines += [_comment(f"{row.name}: {row.value}", "#   ") for row in _open_rows(solution)]
    if solution.cautions:
        lines += [_comment(entry("datasheet-file", "beware"))]
        lines += [_comment(say(message), "#   ") for message in solution.cautions]
    first = {k: v for k, v in made.table.items() if k in ("title", "mount")}
    parts = ["\n".join(lines), to_toml(first)]
    for name, part in made.table.items():
        if isinstance(part, Mapping):
            comments = [_comment(entry("datasheet-part", name)), *_reasons(name, solution)]
            parts.append("\n".join(comments) + "\n" + to_toml({name: part}))
    return "\n".join(parts)


def _comment(words: str, head: str = "# ") -> str:
    return textwrap.fill(words, WIDTH, initial_indent=head, subsequent_indent=head)


def _reasons(name: str, solution: Solution) -> list[str]:
    out = []
    for key in _REASONS.get(name, ()):
        if key == "transmittance":
            if solution.transmittance_scale != 1.0:
                reason = say(Message("datasheet-why.transmittance-in-file"))
                out.append(_comment(f"{key}: {reason}"))
        elif solution.origin[key] == SOLVED and key in solution.why:
            out.append(_comment(f"{key}: {SOLVED}, {say(solution.why[key])}"))
        else:
            out.append(_comment(f"{key}: {solution.origin[key]}"))
    return out
