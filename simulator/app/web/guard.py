"""Who may ask: hosts, origins, tokens and sizes, before anything else looks at a request."""

from __future__ import annotations

import hmac
import secrets
from collections.abc import Awaitable, Callable, MutableMapping
from dataclasses import dataclass, field
from http.cookies import CookieError, SimpleCookie
from typing import Any
from urllib.parse import parse_qs, urlsplit

Scope = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[MutableMapping[str, Any]]]
Send = Callable[[MutableMapping[str, Any]], Awaitable[None]]
App = Callable[[Scope, Receive, Send], Awaitable[None]]

LOOPBACK = ("127.0.0.1", "localhost", "::1")
COOKIE = "nightproof_token"
MOST_BODY = 12_000_000
"""Bytes of a request: a site photo is the largest thing that a page sends."""
HEADERS = {
    "content-security-policy": (
        "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:;"
        " connect-src 'self'; form-action 'none'; base-uri 'none'; frame-ancestors 'none'"
    ),
    "x-content-type-options": "nosniff",
    "referrer-policy": "no-referrer",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "cache-control": "no-store",
}
"""Nothing is fetched from elsewhere, shown elsewhere or kept."""


def new_token() -> str:
    """A token that cannot be guessed."""
    return secrets.token_urlsafe(24)


@dataclass(frozen=True)
class Guard:
    """An ASGI application behind its checks.

    Attributes
    ----------
    app
        What answers.
    hosts
        Names under which it may be asked for, without a port: a page of another site whose name
        points here is refused (DNS rebinding).
    token
        What must be shown, in the address once and in a cookie from then on; "" where only this
        computer may ask.
    """

    app: App
    hosts: tuple[str, ...] = LOOPBACK
    token: str = ""
    headers: dict[str, str] = field(default_factory=lambda: dict(HEADERS))

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer a request, or refuse it."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        headers = {k.decode("latin-1").lower(): v.decode("latin-1") for k, v in scope["headers"]}
        problem = self._problem(scope, headers)
        if problem is not None:
            await _refuse(send, *problem, self.headers)
            return
        key = self._shown(scope)
        cookie = f"{COOKIE}={self.token}; HttpOnly; SameSite=Strict; Path=/" if key else None
        await self.app(scope, _bounded(receive), _with_headers(send, self.headers, cookie))

    def _problem(self, scope: Scope, headers: dict[str, str]) -> tuple[int, str] | None:
        """Status and reason of a refusal; None for a request that may go on."""
        if _host_of(headers.get("host", "")) not in self.hosts:
            return 421, "This name is not served here; open the address that the command printed."
        changes = scope["method"] not in ("GET", "HEAD")
        origin = headers.get("origin")
        if origin is not None and _place_of(origin) != headers.get("host"):
            return 403, "Only the page itself may ask."
        if changes and origin is None:
            return 403, "Only the page itself may ask."
        if self.token and not self._shown(scope) and not self._kept(headers):
            return 401, "Open the address with its token, as the command printed it."
        length = headers.get("content-length", "0")
        if length.isdigit() and int(length) > MOST_BODY:
            return 413, f"This is too large; at most {MOST_BODY // 1_000_000} MB are taken."
        return None

    def _shown(self, scope: Scope) -> bool:
        """Whether the address shows the token."""
        if not self.token:
            return False
        given = parse_qs(scope.get("query_string", b"").decode("latin-1")).get("token", [""])[0]
        return hmac.compare_digest(given.encode(), self.token.encode())

    def _kept(self, headers: dict[str, str]) -> bool:
        """Whether the cookie does."""
        try:
            jar = SimpleCookie(headers.get("cookie", ""))
        except CookieError:
            return False
        cookie = jar[COOKIE].value if COOKIE in jar else ""
        return hmac.compare_digest(cookie.encode(), self.token.encode())


def _host_of(host: str) -> str:
    """The name of a Host header without its port; "" for one that is none."""
    try:
        return (urlsplit(f"//{host}").hostname or "").lower()
    except ValueError:  # brackets that are no address
        return ""


def _place_of(origin: str) -> str:
    """Name and port of an Origin header; "" for one that is none."""
    try:
        return urlsplit(origin).netloc
    except ValueError:
        return ""


class TooLargeError(Exception):
    """A request is larger than is taken."""


def _bounded(receive: Receive) -> Receive:
    """Reads no more of a body than is taken, whatever length was announced."""
    read = 0

    async def bounded() -> MutableMapping[str, Any]:
        nonlocal read
        message = await receive()
        read += len(message.get("body", b""))
        if read > MOST_BODY:
            raise TooLargeError
        return message

    return bounded


def _with_headers(send: Send, headers: dict[str, str], cookie: str | None) -> Send:
    async def sending(message: MutableMapping[str, Any]) -> None:
        if message["type"] == "http.response.start":
            own = list(message.get("headers", []))
            own += [(k.encode(), v.encode()) for k, v in headers.items()]
            if cookie is not None:
                own.append((b"set-cookie", cookie.encode()))
            message = {**message, "headers": own}
        await send(message)

    return sending


async def _refuse(send: Send, status: int, reason: str, headers: dict[str, str]) -> None:
    body = reason.encode()
    lines = [
        (b"content-type", b"text/plain; charset=utf-8"),
        (b"content-length", b"%d" % len(body)),
    ]
    lines += [(k.encode(), v.encode()) for k, v in headers.items()]
    await send({"type": "http.response.start", "status": status, "headers": lines})
    await send({"type": "http.response.body", "body": body})
