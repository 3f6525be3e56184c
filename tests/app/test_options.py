"""Options that several commands share: lists, defaults, and the names of default folders."""

from __future__ import annotations

import inspect
import sys
from pathlib import Path
from typing import Any

import pytest
import typer

from simulator.api.prediction import predict
from simulator.app.cli import app, main, options as shared
from simulator.app.cli.options import folder_for, named_by_options, split_list, split_numbers
from simulator.studies.predict import predict as study
from simulator.studies.survey.study import survey


@pytest.mark.by_hand
@pytest.mark.parametrize(
    ("typed", "entries"),
    [
        (None, None), ([], None), (["a,b"], ["a", "b"]), (["a", "b"], ["a", "b"]),
        (["a, b", "c"], ["a", "b", "c"]), (["none"], []),
    ],
)  # fmt: skip
def test_a_list_is_written_with_commas_or_by_repeating(typed: Any, entries: Any) -> None:
    assert split_list(typed) == entries


@pytest.mark.by_hand
@pytest.mark.parametrize("typed", [["a,,b"], [""], ["a,"], ["a,none"], ["none", "a"]])
def test_a_list_with_a_gap_is_refused(typed: list[str]) -> None:
    with pytest.raises(typer.BadParameter):
        split_list(typed)


@pytest.mark.by_hand
def test_a_list_of_numbers_holds_numbers() -> None:
    assert split_numbers(["300, 1e-1", "3"]) == ["300", "1e-1", "3"]
    with pytest.raises(typer.BadParameter, match="'dim' is not a number"):
        split_numbers(["3,dim"])


def parameters(command: str) -> dict[str, Any]:
    found = typer.main.get_command(app).commands[command]  # type: ignore[attr-defined]
    return {parameter.name: parameter for parameter in found.params}


COMMANDS = sorted(
    name
    for name, command in typer.main.get_command(app).commands.items()  # type: ignore[attr-defined]
    if not hasattr(command, "commands")
)


@pytest.mark.invariant
@pytest.mark.parametrize("command", COMMANDS)
def test_options_of_one_name_are_one_option(command: str) -> None:
    """Same words, form and range wherever an option stands."""
    kept = {
        parameter.opts[-1]: parameter
        for name in COMMANDS
        for parameter in parameters(name).values()
        if parameter.opts[-1] in SHARED
    }
    assert set(kept) == SHARED
    for parameter in parameters(command).values():
        option = parameter.opts[-1]
        if option in SHARED and (command, option) not in OF_A_FILE:
            first = kept[option]
            assert (parameter.help, parameter.metavar) == (first.help, first.metavar), option
            assert parameter.multiple == first.multiple, option


SHARED = {
    "--camera", "--cameras", "--other-cameras", "--lights", "--lens", "--same-framing", "--set",
    "--trials", "--workers", "--resume", "--seed", "--json", "--remedies",
}  # fmt: skip
OF_A_FILE = {("report", "--out"), ("show", "--out")}


@pytest.mark.invariant
@pytest.mark.parametrize("option", ["remedies", "tolerances"])
def test_python_and_the_command_line_have_the_same_defaults(option: str) -> None:
    from_python = {
        inspect.signature(function).parameters[option].default for function in (predict, study)
    }
    assert from_python == {parameters("predict")[option].default}


@pytest.mark.invariant
def test_a_survey_has_the_same_defaults_in_python() -> None:
    for name in ("remedies", "trials", "seed"):
        default = inspect.signature(survey).parameters[name].default
        assert default == parameters("survey")[name].default


def name_of(monkeypatch: pytest.MonkeyPatch, *arguments: str) -> str:
    """The end of the default folder's name for options of a small command."""
    named: list[str] = []
    small = typer.Typer()

    @small.command()
    def command(
        context: typer.Context,
        scene: shared.SceneArgument = "s",
        cameras: shared.OtherCamerasOption = None,
        sets: shared.SetOption = None,
        remedies: shared.RemediesOption = True,
        seed: shared.SeedOption = 0,
        workers: shared.WorkersOption = None,
        out: shared.OutOption = None,
    ) -> None:
        named.append(named_by_options(context))
        assert folder_for(context, Path("x"), "a") == Path("x")
        assert folder_for(context, None, "a", "b") == Path(f"outputs/a--b{named[0]}")

    monkeypatch.setattr(sys, "argv", ["x", *arguments])
    with pytest.raises(SystemExit) as caught:
        small()
    assert caught.value.code == 0
    return named[0]


@pytest.mark.by_hand
@pytest.mark.parametrize(
    ("arguments", "end"),
    [
        ((), ""),
        (("yard",), ""),
        (("--seed", "0"), ""),
        (("--seed", "7", "--workers", "2", "--out", "x"), "--seed=7"),
        (("--set", "a.b=1", "--set", "c=2"), "--a.b=1--c=2"),
        (("--other-cameras", "p,q"), "--cameras=p+q"),
        (("--no-remedies",), "--no-remedies"),
    ],
)
def test_a_default_folder_is_named_by_what_is_set(monkeypatch, arguments, end: str) -> None:
    assert name_of(monkeypatch, *arguments) == end


@pytest.mark.invariant
def test_what_makes_no_name_is_told_apart_all_the_same(monkeypatch) -> None:
    long = [f"target.plate.position_m[{k}]=1.5" for k in range(3)]
    names = [
        name_of(monkeypatch, "--set", "lamp.a b.on=true"),
        name_of(monkeypatch, "--set", "lamp.a-b.on=true"),
        name_of(monkeypatch, "--set", "x=../../y"),
        name_of(monkeypatch, *(part for text in long for part in ("--set", text))),
        name_of(monkeypatch, *(part for text in reversed(long) for part in ("--set", text))),
    ]
    assert len(set(names)) == len(names)
    assert all("/" not in name and " " not in name and len(name) < 90 for name in names)


@pytest.mark.by_hand
def test_help_lists_what_is_shared(monkeypatch, capsys) -> None:
    monkeypatch.setattr(sys, "argv", ["nightproof", "compare", "--help"])
    with pytest.raises(SystemExit):
        main()
    assert "A,B,..." in capsys.readouterr().out
