"""Who may speak to the page: requests from elsewhere, without the link's secret, or too large are turned away."""

import hmac
import secrets
from collections.abc import Awaitable, Callable, MutableMapping
from http.cookies import CookieError, SimpleCookie
from typing import Any

Message = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]
Application = Callable[[Message, Receive, Send], Awaitable[None]]

LARGEST_BODY = 32_000_000
"""Largest request [bytes]: a logger's file of some months."""

POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self' {style}; img-src 'self' data:; connect-src 'self'; "
    "form-action 'self'; frame-ancestors 'none'; base-uri 'none'; frame-src 'self'"
)
"""What a page may load: its own files, nothing from elsewhere, no script within a page."""

PLOT_STYLE = "'sha256-jSYQUrW7J0b3jPqhZP9C2Xh1PyJKHKXd4s0fpGGKrww='"
"""Digest of the one style sheet that the chart library writes into its pictures."""

TOO_LARGE = f"More than {LARGEST_BODY // 1_000_000} MB is not taken."

PUBLIC = ("/enter", "/phone/")
"""Where the links lead that carry a secret themselves."""


class Keys:
    """The secrets of one session: of the link, of links for phones, and of the cookie."""

    def __init__(self) -> None:
        self.link = secrets.token_urlsafe(32)
        self.cookie = secrets.token_urlsafe(32)
        self._once: set[str] = set()

    def opens(self, given: str) -> bool:
        """Tell whether a text is the link's secret."""
        return hmac.compare_digest(given.encode(), self.link.encode())

    def is_known(self, cookie: str) -> bool:
        """Tell whether a text is the cookie's."""
        return hmac.compare_digest(cookie.encode(), self.cookie.encode())

    def new_once(self) -> str:
        """Return the secret of a link that works once; the one before it no longer does."""
        self._once = {secrets.token_urlsafe(24)}
        return next(iter(self._once))

    def spend(self, given: str) -> bool:
        """Tell whether a text is the secret of a link that was not used yet; now it is."""
        if given not in self._once:
            return False
        self._once.discard(given)
        return True


class Guard:
    """Lets a request through to the application only if it comes from a page of this session.

    Parameters
    ----------
    app : callable
        An ASGI application.
    keys : Keys
    hosts : set of str
        Names and ports under which the page is reached; any other is somebody else's name for this machine.
    cookie_name : str
        Cookies know no ports: a page of another session has another name.
    """

    def __init__(self, app: Application, keys: Keys, hosts: set[str], cookie_name: str) -> None:
        self.app, self.keys, self.hosts, self.cookie_name = app, keys, hosts, cookie_name

    async def __call__(self, scope: Message, receive: Receive, send: Send) -> None:
        """Serve a request, or refuse it."""
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
        elif scope["type"] != "http":
            await send({"type": "websocket.close", "code": 1008})
        else:
            await self._serve(self._refusal(scope) or self.app, scope, receive, send)

    def _refusal(self, scope: Message) -> Application | None:
        headers = _headers(scope)
        host = headers.get("host", "")
        if host not in self.hosts:
            return _refused("This page answers to its own address only.", 421)
        if scope["method"] not in ("GET", "HEAD"):
            if scope["method"] != "POST":
                return _refused("There is nothing of this kind here.", 405)
            if headers.get("origin") != f"http://{host}":
                return _refused("This was sent from another page; nothing was done.", 403)
        if headers.get("sec-fetch-site") in ("cross-site", "same-site") and headers.get("sec-fetch-mode") != "navigate":
            return _refused("This was asked for by another page; nothing was given.", 403)
        if not scope["path"].startswith(PUBLIC) and not self.keys.is_known(_cookie(headers, self.cookie_name)):
            return _refused("Open the page by the link that holdtime open printed.", 403)
        length = headers.get("content-length", "0")
        if not length.isdecimal() or len(length) > 12 or int(length) > LARGEST_BODY:
            return _refused(TOO_LARGE, 413)
        return None

    async def _serve(self, app: Application, scope: Message, receive: Receive, send: Send) -> None:
        got = 0

        async def counted() -> Message:
            nonlocal got
            message = await receive()
            got += len(message.get("body", b""))
            if got > LARGEST_BODY:
                raise TooLargeError
            return message

        async def with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                message["headers"] = [*message.get("headers", ()), *_SAFE]
            await send(message)

        await app(scope, counted, with_headers)


def _refused(why: str, status: int) -> Application:
    # `holdtime open` says it in words where Starlette is not there.
    from starlette.responses import PlainTextResponse

    return PlainTextResponse(f"{why}\n", status)


class TooLargeError(Exception):
    """A body that is larger than it said."""


def _headers(scope: Message) -> dict[str, str]:
    """Return the headers; of one that comes twice, both, so that it is like no value that is allowed."""
    found: dict[str, str] = {}
    for name, value in scope["headers"]:
        key, text = name.decode("latin-1").lower(), value.decode("latin-1")
        found[key] = f"{found[key]}, {text}" if key in found and key != "cookie" else text
    return found


def _cookie(headers: dict[str, str], name: str) -> str:
    try:
        found = SimpleCookie(headers.get("cookie", "")).get(name)
    except CookieError:
        return ""
    return "" if found is None else found.value


_SAFE = [
    (name.encode(), value.encode())
    for name, value in {
        "content-security-policy": POLICY.format(style=PLOT_STYLE),
        "x-content-type-options": "nosniff",
        "referrer-policy": "same-origin",
        "cross-origin-opener-policy": "same-origin",
        "cross-origin-resource-policy": "same-origin",
        "cache-control": "no-store",
    }.items()
]
