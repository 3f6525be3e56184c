"""The workbench as an ASGI application: a page, and the questions that it asks.

The server keeps no state of a page: every question brings the whole view along, as the page's
address has it. What is kept is only what was computed, by content.
"""

from __future__ import annotations

import asyncio
import io
import json
import logging
import tempfile
import zipfile
from collections.abc import AsyncIterator, Callable
from dataclasses import replace
from functools import lru_cache, partial
from pathlib import Path
from typing import Any

from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import JSONResponse, Response, StreamingResponse
from starlette.routing import Route

from simulator.app.web import answers
from simulator.app.web.answers import Row
from simulator.app.web.guard import LOOPBACK, Guard, TooLargeError
from simulator.app.web.kept import Kept
from simulator.app.web.lanes import Lanes, OutOfDateError, Ticket
from simulator.app.web.view import View
from simulator.app.web.workspace import KINDS, Workspace
from simulator.dotted import changes_of, parse_value
from simulator.errors import InputError
from simulator.files import bundled_folder, bundled_names, read_toml
from simulator.scene.radiosity.field import rough
from simulator.studies.predict import predict
from simulator.studies.provenance import versions
from simulator.studies.session import open_session

LOG = logging.getLogger("uvicorn.error")
STATIC = Path(__file__).parent / "static"
TYPES = {
    ".html": "text/html",
    ".css": "text/css",
    ".js": "text/javascript",
    ".svg": "image/svg+xml",
}


class Workbench:
    """What answers a page's questions.

    Parameters
    ----------
    workspace
        Where its files lie.
    """

    def __init__(self, workspace: Workspace) -> None:
        self.workspace, self.kept, self.lanes = workspace, Kept(), Lanes()

    def close(self) -> None:
        """Drop all work and remove a temporary folder."""
        self.lanes.close()
        self.workspace.close()

    @property
    def folder(self) -> Path:
        """Folder of the files that pages brought along."""
        return self.workspace.folder

    async def steps(self, view: View, ticket: Ticket) -> AsyncIterator[Row]:
        """The answer to a view, step by step."""
        quick = self.lanes.quick
        yield await self.lanes.run(quick, ticket, lambda: self._opened(view))
        first = await self.lanes.run(quick, ticket, lambda: self._glanced(view))
        if first is not None:
            yield first
        for step in (answers.coarse, answers.look, answers.closer):
            yield await self.lanes.run(quick, ticket, lambda s=step: self._asked(view, s))  # type: ignore[misc]
        async for row in self._proof(view, ticket):
            yield row

    async def _proof(self, view: View, ticket: Ticket) -> AsyncIterator[Row]:
        """The proof, and before it what is counted and the picture, each as soon as it stands."""
        loop, rows = asyncio.get_running_loop(), asyncio.Queue[Row | None]()

        def tell(row: Row | None) -> None:
            loop.call_soon_threadsafe(rows.put_nowait, row)

        work = asyncio.ensure_future(
            self.lanes.run(self.lanes.slow, ticket, lambda: self._prove(view, ticket, tell))
        )
        # what a page that has gone asked for ends without anybody who waits for it
        work.add_done_callback(lambda done: done.cancelled() or done.exception())
        work.add_done_callback(lambda _: rows.put_nowait(None))
        try:
            while (row := await rows.get()) is not None:
                yield row
            yield await work
        finally:
            work.cancel()

    async def strip(self, view: View, ticket: Ticket) -> AsyncIterator[Row]:
        """The target as light falls."""
        for strength in answers.FALLING:
            step = partial(answers.falling, strength=strength)
            yield await self.lanes.run(
                self.lanes.slow,
                ticket,
                lambda s=step: self._asked(view, s),  # type: ignore[misc]
            )

    async def passing(self, view: View, ticket: Ticket) -> AsyncIterator[Row]:
        """The target in several frames of its pass."""
        slow = self.lanes.slow
        yield await self.lanes.run(slow, ticket, lambda: self._asked(view, answers.passes))

    async def budget(self, view: View, ticket: Ticket) -> AsyncIterator[Row]:
        """Where the light of the target's pixel goes."""
        # as the command has it, not from the rough light of a first look
        yield await self.lanes.run(
            self.lanes.slow, ticket,
            lambda: answers.light_budget(open_session(*view.opened(self.folder), seed=view.seed)),
        )  # fmt: skip

    async def fixes(self, view: View, ticket: Ticket) -> AsyncIterator[Row]:
        """What would fix the verdict."""
        yield await self.lanes.run(self.lanes.slow, ticket, lambda: self._fixes(view, ticket))

    def _opened(self, view: View) -> Row:
        try:
            written = self.kept.opened(replace(view, changes={}), self.folder)
        except InputError:  # the files are only whole with the changes
            written = None
        return answers.opened(view, *self.kept.opened(view, self.folder), written)

    def _glanced(self, view: View) -> Row | None:
        session = self.kept.glance(view, self.folder)
        if session is None:
            return None
        with rough():
            return answers.glanced(session)

    def _asked(self, view: View, ask: Callable[[Any], Row]) -> Row:
        with self.kept.session(view, self.folder) as session:
            return ask(session)

    def _prove(self, view: View, ticket: Ticket, tell: Callable[[Row], None]) -> Row:
        known = self.kept.proof(view.key)
        if known is None:
            told: list[Row] = []

            def pictured(frame: Any, box_px: tuple[int, int, int, int]) -> None:
                told.append(answers.pictured(frame, box_px))
                tell(told[-1])

            result = predict(
                *self.kept.opened(view, self.folder), seed=view.seed, progress=ticket.check,
                remedies=False, tolerances=False, counted=lambda c: tell(answers.counted(c)),
                pictured=pictured,
            )  # fmt: skip
            known = self.kept.put_proof(view.key, answers.proof_row(result, *told[-1:]))
        return known

    def _fixes(self, view: View, ticket: Ticket) -> Row:
        result = predict(
            *view.opened(self.folder), seed=view.seed, progress=ticket.check, tolerances=False
        )
        out = answers.fixes(result.verdict)
        for row in out["fixes"]:
            row["changes"] = {c.key: parse_value(c.value) for c in changes_of(row["sets"])}
        return out

    def file(self, view: View, what: str) -> tuple[str, str]:
        """A scene or camera file that says what the view shows: its name and text."""
        scene, camera = view.opened(self.folder)
        one = camera if what == "camera" else scene
        return f"{one.name}.toml", one.to_toml()

    def export(self, view: View, what: str, ticket: Ticket) -> tuple[str, bytes]:
        """A result folder packed into one file: its name and bytes."""
        from simulator.api.budgeting import budget
        from simulator.api.documents import document
        from simulator.api.prediction import predict as predicted
        from simulator.api.specifying import specify

        scene, camera = view.opened(self.folder)
        with tempfile.TemporaryDirectory(prefix="nightproof-export-") as inner:
            place = Path(inner) / f"{scene.name}-{camera.name}"
            if what == "budget":
                budget(scene, camera, seed=view.seed).save(place)
            elif what == "specification":
                specify(scene, [camera], seed=view.seed, progress=ticket.check).save(place)
            else:
                predicted(scene, camera, seed=view.seed, progress=ticket.check, reserve=False).save(
                    place
                )
                document([place], Path(inner) / "report.html", title=scene.model.title)
            return f"{scene.name}-{what}.zip", _packed(Path(inner))


def _packed(folder: Path) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as pack:
        for path in sorted(folder.rglob("*")):
            if path.is_file():
                pack.write(path, path.relative_to(folder))
    return out.getvalue()


@lru_cache(maxsize=1)
def lists() -> Row:
    """Bundled scenes, cameras and lights with their titles, and the version."""
    out: Row = {"version": versions()["nightproof"]}
    for kind in ("scenes", "cameras", "lights"):
        folder = bundled_folder(kind)
        out[kind] = [
            {"name": name, "title": str(read_toml(folder / f"{name}.toml").get("title", name))}
            for name in bundled_names(kind)
        ]
    return out


def application(bench: Workbench, *, hosts: tuple[str, ...] = LOOPBACK, token: str = "") -> Guard:
    """The whole application behind its guard.

    Parameters
    ----------
    bench
        What answers.
    hosts, token
        As `Guard` takes them.
    """
    return Guard(Starlette(routes=_routes(bench)), hosts, token)


def _routes(bench: Workbench) -> list[Route]:
    def streamed(steps: Callable[[View, Ticket], AsyncIterator[Row]], lane: str) -> Any:
        async def answer(request: Request) -> Response:
            try:
                view, page = await _question(request)
            except InputError as error:
                return JSONResponse(answers.refusal(error), 400)
            ticket = bench.lanes.ticket(f"{lane} {page}")
            return StreamingResponse(
                _lines(request, _told(steps(view, ticket)), ticket),
                media_type="application/x-ndjson",
            )

        return answer

    async def page(request: Request) -> Response:
        name = request.path_params.get("name", "index.html")
        path = STATIC / name
        if path.parent != STATIC or not path.is_file():
            return Response("There is nothing here.", 404)
        return Response(path.read_bytes(), media_type=TYPES.get(path.suffix, "text/plain"))

    async def listed(_request: Request) -> Response:
        return JSONResponse(lists())

    async def file(request: Request) -> Response:
        return await _answered(request, bench, lambda view, what, _t: bench.file(view, what))

    async def export(request: Request) -> Response:
        return await _answered(request, bench, bench.export)

    async def taken(request: Request) -> Response:
        return await _taken(request, bench)

    async def made(request: Request) -> Response:
        return await _made(request)

    return [
        Route("/", page),
        Route("/static/{name}", page),
        Route("/lists", listed),
        Route("/answer", streamed(bench.steps, "answer"), methods=["POST"]),
        Route("/falling", streamed(bench.strip, "falling"), methods=["POST"]),
        Route("/passing", streamed(bench.passing, "passing"), methods=["POST"]),
        Route("/budget", streamed(bench.budget, "budget"), methods=["POST"]),
        Route("/fixes", streamed(bench.fixes, "fixes"), methods=["POST"]),
        Route("/file", file, methods=["POST"]),
        Route("/export", export, methods=["POST"]),
        Route("/open", taken, methods=["POST"]),
        Route("/new", made, methods=["POST"]),
    ]


async def _question(request: Request) -> tuple[View, str]:
    """The view and the page's name of a question.

    Raises
    ------
    InputError
        If it cannot be read.
    """
    given = await _json(request)
    return View.of(given.get("view")), str(given.get("page", ""))[:64]


async def _json(request: Request) -> dict[str, Any]:
    try:
        given = json.loads(await request.body())
    except TooLargeError:
        raise InputError("This question is too large.") from None
    except (ValueError, RecursionError):
        raise InputError("This question cannot be read.", allowed="JSON") from None
    if not isinstance(given, dict):
        raise InputError("This question cannot be read.", allowed="an object")
    return given


async def _told(steps: AsyncIterator[Row]) -> AsyncIterator[Row]:
    """Steps of an answer, with what went wrong as its last one."""
    try:
        async for row in steps:
            yield row
    except OutOfDateError:
        yield {"step": "dropped"}
    except InputError as error:
        yield answers.refusal(error)
    except MemoryError:
        yield answers.refusal(InputError("This is too large for the memory.", fix="fewer pixels"))
    except Exception as error:
        LOG.exception("a fault of the workbench's own")
        yield answers.refusal(
            InputError(
                "Sorry, the workbench failed by a fault of its own.", given=type(error).__name__,
                fix="please report it to the project's issue tracker, with this address",
            )
        )  # fmt: skip


async def _lines(
    request: Request, steps: AsyncIterator[Row], ticket: Ticket
) -> AsyncIterator[bytes]:
    """Steps as lines of JSON; what a page that has gone asked for is dropped."""
    watching = asyncio.create_task(_until_gone(request, ticket))
    try:
        async for row in steps:
            yield json.dumps(row, allow_nan=False, default=str).encode() + b"\n"
    finally:
        watching.cancel()
        ticket.drop()


async def _until_gone(request: Request, ticket: Ticket) -> None:
    while (await request.receive())["type"] != "http.disconnect":
        pass
    ticket.drop()


async def _answered(
    request: Request, bench: Workbench, work: Callable[[View, str, Ticket], tuple[str, Any]]
) -> Response:
    """A file to be kept."""
    try:
        given = await _json(request)
        view, what = View.of(given.get("view")), str(given.get("what", ""))
        ticket = Ticket()
        name, body = await bench.lanes.run(
            bench.lanes.slow, ticket, lambda: work(view, what, ticket)
        )
    except InputError as error:
        return JSONResponse(answers.refusal(error), 400)
    except OutOfDateError:
        return _ending()
    plain = "".join(c if c.isalnum() or c in "-_." else "-" for c in name)
    disposition = {"content-disposition": f'attachment; filename="{plain}"'}
    kind = "application/zip" if plain.endswith(".zip") else "text/plain; charset=utf-8"
    return Response(body, media_type=kind, headers=disposition)


async def _taken(request: Request, bench: Workbench) -> Response:
    """A file that a page opens."""
    kind, name = request.query_params.get("kind", ""), request.query_params.get("name", "")
    try:
        body = await request.body()
        if kind not in KINDS:
            raise InputError("There is no such kind of file.", given=kind, allowed=str(KINDS))
        taken = await bench.lanes.run(
            bench.lanes.quick, Ticket(), lambda: bench.workspace.take(kind, name, body)
        )
        return JSONResponse(taken)
    except TooLargeError:
        return JSONResponse(
            answers.refusal(InputError("This file is too large.", allowed="at most 12 MB")), 413
        )
    except InputError as error:
        return JSONResponse(answers.refusal(error), 400)
    except OutOfDateError:
        return _ending()


def _ending() -> Response:
    return JSONResponse(answers.refusal(InputError("The workbench is ending.")), 503)


async def _made(request: Request) -> Response:
    """A new scene from a few answers."""
    from simulator.api.new import new_scene

    try:
        given = await _json(request)
        allowed = {
            "title", "light", "distance_m", "height_m", "sideways_m", "text", "vehicle",
            "speed_kmh", "infrared", "lamp_lm", "wanted_probability",
        }  # fmt: skip
        scene = new_scene(**{key: value for key, value in given.items() if key in allowed})
    except InputError as error:
        return JSONResponse(answers.refusal(error), 400)
    except TypeError:
        return JSONResponse(answers.refusal(InputError("An answer is of the wrong kind.")), 400)
    return JSONResponse({"kind": "scene", "name": "new-scene", "text": scene.text})
