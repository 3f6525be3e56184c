"""`nightproof list`: every bundled name by kind."""

from __future__ import annotations

from typing import TYPE_CHECKING

import typer

from simulator.app.cli.command import Command
from simulator.app.cli.options import JsonOption

if TYPE_CHECKING:
    from simulator.files import Kind

_FILE_KINDS: tuple[Kind, ...] = ("scenes", "sites", "cameras", "lenses", "lights")


def _names() -> dict[str, list[str]]:
    from simulator import data
    from simulator.files import bundled_names
    from simulator.light.spectra import spectrum_names
    from simulator.light.spectrum_kinds import forms
    from simulator.scene.materials import material_names, sheeting_names
    from simulator.scene.targets.plate import design_names

    return {
        **{kind: bundled_names(kind) for kind in _FILE_KINDS},
        "spectra": list(spectrum_names()),
        "spectra_made_on_demand": list(forms()),
        "materials": list(material_names()),
        "sheetings": list(sheeting_names()),
        "plate_designs": list(design_names()),
        "quantum_efficiencies": list(data.names("quantum_efficiency")),
    }


def _titles(kind: str) -> dict[str, str]:
    """What stands beside the names of a kind."""
    if kind == "spectra_made_on_demand":
        from simulator.light.spectrum_kinds import forms

        return forms()
    file_kind = next((known for known in _FILE_KINDS if known == kind), None)
    if file_kind is None:
        return {}
    from simulator.files import bundled_folder, read_toml

    folder = bundled_folder(file_kind)
    return {path.stem: str(read_toml(path).get("title", "")) for path in folder.glob("*.toml")}


def list_names(as_json: JsonOption = False) -> None:
    """List everything bundled by kind: files of scenes and cameras, spectra, materials, designs."""
    names = _names()
    if as_json:
        import json

        typer.echo(json.dumps(names, indent=2))
        return
    for kind, entries in names.items():
        typer.echo(kind.replace("_", " "))
        titles = _titles(kind)
        width = max((len(entry) for entry in entries), default=0)
        for entry in entries:
            typer.echo(f"  {entry:<{width}}  {titles.get(entry, '')}".rstrip())
        typer.echo("")


COMMAND = Command("list", list_names, 110)
