"""Who may ask the workbench: loopback names, its own pages, a token for others, bounded sizes."""

from __future__ import annotations

import asyncio

import pytest

from simulator.app.web.guard import COOKIE, HEADERS, MOST_BODY, Guard


async def _app(scope, receive, send):
    while (message := await receive()).get("more_body"):
        assert message
    await send({"type": "http.response.start", "status": 200, "headers": []})
    await send({"type": "http.response.body", "body": b"yes"})


def ask(guard, method="GET", path="/", query=b"", body=(b"",), **told):
    """Status and headers of an answer."""
    sent = []
    parts = [{"type": "http.request", "body": b, "more_body": True} for b in body[:-1]]
    parts.append({"type": "http.request", "body": body[-1], "more_body": False})

    async def receive():
        return parts.pop(0)

    async def send(message):
        sent.append(message)

    headers = [(k.replace("_", "-").encode(), v.encode()) for k, v in told.items()]
    scope = {
        "type": "http", "method": method, "path": path, "query_string": query, "headers": headers,
    }  # fmt: skip
    asyncio.run(guard(scope, receive, send))
    return sent[0]["status"], {k.decode(): v.decode() for k, v in sent[0]["headers"]}


@pytest.mark.invariant
@pytest.mark.parametrize(
    ("host", "status"),
    [
        ("127.0.0.1:8642", 200), ("localhost", 200), ("[::1]:8642", 200), ("LOCALHOST:1", 200),
        ("evil.example", 421), ("127.0.0.1.evil.example", 421), ("", 421), ("127.0.0.1@evil", 421),
        ("[", 421), ("[::1", 421), ("[localhost]", 421),
    ],
)  # fmt: skip
def test_only_its_own_names_are_served(host, status):
    """A name of another site that points here is refused (DNS rebinding, OWASP)."""
    assert ask(Guard(_app), host=host)[0] == status


@pytest.mark.invariant
@pytest.mark.parametrize(
    ("origin", "status"),
    [
        ({"origin": "http://127.0.0.1:8642"}, 200), ({"origin": "http://evil.example"}, 403),
        ({"origin": "null"}, 403), ({"origin": "http://["}, 403),
        ({"origin": "http://127.0.0.1:9999"}, 403), ({}, 403),
    ],
)  # fmt: skip
def test_only_its_own_page_asks(origin, status):
    """OWASP, cross-site request forgery: the Origin of every change is verified."""
    assert ask(Guard(_app), "POST", host="127.0.0.1:8642", **origin)[0] == status


@pytest.mark.invariant
def test_other_hosts_need_the_token_once():
    guard = Guard(_app, hosts=("bench.local",), token="a-secret")
    told = {"host": "bench.local:8642"}
    assert ask(guard, **told)[0] == 401
    assert ask(guard, query=b"token=a-secreT", **told)[0] == 401
    assert ask(guard, cookie=f"{COOKIE}=", **told)[0] == 401
    status, headers = ask(guard, query=b"token=a-secret", **told)
    assert status == 200
    kept = headers["set-cookie"]
    assert "HttpOnly" in kept and "SameSite=Strict" in kept
    assert ask(guard, cookie=kept.split(";")[0], **told)[0] == 200


@pytest.mark.invariant
def test_every_answer_forbids_what_comes_from_elsewhere():
    for told in ({"host": "localhost"}, {"host": "evil.example"}):
        _, headers = ask(Guard(_app), **told)
        assert headers.items() >= HEADERS.items()
    assert "default-src 'none'" in HEADERS["content-security-policy"]
    assert "http" not in HEADERS["content-security-policy"]


@pytest.mark.invariant
def test_a_body_is_bounded_whatever_it_says_of_itself():
    told = {"host": "localhost", "origin": "http://localhost"}
    assert ask(Guard(_app), "POST", content_length=str(MOST_BODY + 1), **told)[0] == 413
    from simulator.app.web.guard import TooLargeError

    half = b"x" * (MOST_BODY // 2 + 1)
    with pytest.raises(TooLargeError):
        ask(Guard(_app), "POST", body=(half, half), **told)
