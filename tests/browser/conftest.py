"""A real browser, started once; every page in a context of its own that notes what the page says and asks for.

Without a browser these tests are left out, with the reason; where CI is set they fail, so that none is left out unseen.
"""

import os
import shutil
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, BrowserContext, Error, Page, sync_playwright

CHROMIUM = ("chromium", "chromium-browser", "google-chrome-stable", "google-chrome")
"""What distributions call it."""

ARGUMENTS = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)


@dataclass
class Watched:
    """A page, and what it did.

    Attributes
    ----------
    page : Page
    said : list of str
        Everything on the console, and every error that nothing caught.
    asked_for : list of str
        Address of every request, the page itself included; data: and blob: addresses stay inside the page.
    """

    page: Page
    said: list[str] = field(default_factory=list)
    asked_for: list[str] = field(default_factory=list)

    @property
    def asked_of_others(self) -> list[str]:
        """Requests that leave the page's own address."""
        own = self.page.url.partition("#")[0]
        inside = ("data:", "blob:", "about:")
        return [url for url in self.asked_for if url.partition("#")[0] != own and not url.startswith(inside)]


OpenPage = Callable[..., Watched]


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """Chromium from the distribution, without a window; one for each worker."""
    found = next(filter(None, map(shutil.which, CHROMIUM)), None)
    if found is None:
        reason = "no browser: install chromium (Debian: apt-get install chromium), or put it on the PATH"
        if os.environ.get("CI"):
            pytest.fail(reason)
        pytest.skip(reason)
    with sync_playwright() as driver:
        try:
            started = driver.chromium.launch(executable_path=found, args=list(ARGUMENTS))
        except Error as error:
            pytest.fail(f"{found} does not start: {error}")
        yield started
        started.close()


@pytest.fixture
def open_page(browser: Browser) -> Iterator[OpenPage]:
    """Open an address or a file: `open_page(path, width=360, height=740, offline=True, color_scheme="dark")`.

    Offline is the default, and closes even this machine's own addresses; a page that a server gives needs
    `offline=False`. More options go to the browser's context.
    """
    contexts: list[BrowserContext] = []

    def opened(
        address: str | Path, *, width: int = 1280, height: int = 800, offline: bool = True, **options: Any
    ) -> Watched:
        context = browser.new_context(viewport={"width": width, "height": height}, offline=offline, **options)
        contexts.append(context)
        watched = Watched(context.new_page())
        watched.page.on("console", lambda message: watched.said.append(f"{message.type}: {message.text}"))
        watched.page.on("pageerror", lambda error: watched.said.append(f"error: {error}"))
        watched.page.on("request", lambda request: watched.asked_for.append(request.url))
        # A relative path with a fragment is a file with a state in it.
        text = str(address)
        path, mark, state = text.partition("#")
        if isinstance(address, Path) or not text.partition(":")[1]:
            text = Path(path).resolve().as_uri() + mark + state
        watched.page.goto(text)
        return watched

    yield opened
    for context in contexts:
        context.close()
