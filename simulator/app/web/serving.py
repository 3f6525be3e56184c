"""Starts the workbench: on this computer alone, or for others with a token."""

from __future__ import annotations

import socket
import sys
import webbrowser
from pathlib import Path
from threading import Timer
from urllib.parse import quote

import uvicorn

from simulator.app.web.guard import LOOPBACK, new_token
from simulator.app.web.server import Workbench, application
from simulator.app.web.workspace import Workspace
from simulator.bounded import few_pools
from simulator.errors import InputError
from simulator.files import bundled_names


class _Server(uvicorn.Server):
    """Ends at a signal within a second: answers under way end with "dropped", none is waited for.

    When it has ended it raises the signal again, so that the command line ends as every command.
    """

    def __init__(self, config: uvicorn.Config, bench: Workbench) -> None:
        super().__init__(config)
        self.bench = bench

    async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
        """Drop all work, then close."""
        self.bench.close()
        await super().shutdown(sockets)


EVERYWHERE = ("0.0.0.0", "::")


def serve(
    scene: str,
    camera: str,
    *,
    host: str,
    port: int,
    workspace: Path | None = None,
    open_page: bool = True,
) -> None:
    """Serve the workbench until it is interrupted.

    Parameters
    ----------
    scene, camera
        Bundled names of what is shown first.
    host, port
        Where it listens; port 0 takes a free one. A host that others reach needs a token.
    workspace
        Folder for files that pages bring along; a temporary one if not given.
    open_page
        Whether the page is opened in a browser.

    Raises
    ------
    InputError
        For a name that is not bundled, a folder that is not there, or an address that is taken.
    """
    for kind, name in (("scenes", scene), ("cameras", camera)):
        if name not in bundled_names(kind):  # type: ignore[arg-type]
            raise InputError(
                "There is no bundled file of this name.", argument=kind.removesuffix("s"),
                given=name, fix="see `nightproof list`; open your own files in the page",
            )  # fmt: skip
    if workspace is not None and not workspace.is_dir():
        raise InputError(
            "There is no such folder.", argument="workspace", given=str(workspace),
            fix="make it first",
        )  # fmt: skip
    few_pools()
    listener = _listener(host, port)
    port = listener.getsockname()[1]
    local = host in LOOPBACK
    token = "" if local else new_token()
    bench = Workbench(Workspace(workspace))
    app = application(bench, hosts=hosts_of(host), token=token)
    start = address(host, port, scene, camera, token)
    print(f"Workbench: {start}", flush=True)
    if not local:
        print("Others on your network reach it by this address with its token only.", flush=True)
    print("Ctrl-C ends it.", flush=True)
    if open_page:
        Timer(0.8, webbrowser.open, [start]).start()
    config = uvicorn.Config(
        app, log_level="warning", access_log=False, lifespan="off", server_header=False, ws="none",
        timeout_graceful_shutdown=1, limit_concurrency=64, h11_max_incomplete_event_size=65_536,
    )  # fmt: skip
    try:
        _Server(config, bench).run(sockets=[listener])
    finally:
        bench.close()


def hosts_of(host: str) -> tuple[str, ...]:
    """Names under which the page may be asked for."""
    if host not in EVERYWHERE:
        return (*LOOPBACK, host.lower())
    names = {socket.gethostname().lower(), *_own_addresses()}
    return (*LOOPBACK, *sorted(names))


def _own_addresses() -> set[str]:
    """Addresses of this computer."""
    try:
        return {str(info[4][0]) for info in socket.getaddrinfo(socket.gethostname(), None)}
    except OSError:
        return set()


def address(host: str, port: int, scene: str, camera: str, token: str) -> str:
    """The address that opens the page."""
    name = socket.gethostname() if host in EVERYWHERE else host
    shown = f"[{name}]" if ":" in name else name
    query = f"?token={token}" if token else ""
    return f"http://{shown}:{port}/{query}#scene={quote(scene)}&camera={quote(camera)}"


def _listener(host: str, port: int) -> socket.socket:
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    listener = socket.socket(family, socket.SOCK_STREAM)
    try:
        if sys.platform != "win32":
            listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listener.bind((host, port))
        listener.listen()  # who comes as soon as the address is told waits for the server
    except OSError as error:
        listener.close()
        raise InputError(
            "The workbench cannot listen there.", argument="port", given=f"{host}:{port}",
            allowed=error.strerror, fix="choose another port, or 0 for a free one",
        ) from None  # fmt: skip
    return listener
