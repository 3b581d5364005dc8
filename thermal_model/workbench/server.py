"""The server of the page: sockets, the link, the browser, and a clean end."""

import os
import socket
import sys
import threading
import time
import webbrowser
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import Any

from geometries.errors import InputError
from thermal_model.workbench.guard import Keys

LOOPBACK = "127.0.0.1"


def serve(folder: Path, *, port: int, wants_browser: bool, wants_phone: bool, say: Callable[[str], None]) -> None:
    """Serve the page of a folder until Ctrl-C.

    Parameters
    ----------
    folder : Path
        That is there.
    port : int
        0 for any that is free.
    wants_browser : bool
        Open it in the browser, where there is one.
    wants_phone : bool
        Listen on the local network as well.
    say : callable
        Prints a line.

    Raises
    ------
    InputError
        If the port is taken, the libraries are not there, or the machine has no address on a network.
    """
    try:
        import uvicorn

        from thermal_model.workbench.app import application
    except ImportError as error:
        raise InputError(f"the page needs {error.name}; install it with: pip install 'holdtime[workbench]'") from None
    sockets = [_listening(LOOPBACK, port)]
    port = sockets[0].getsockname()[1]
    hosts = {f"{LOOPBACK}:{port}", f"localhost:{port}"}
    phone = ""
    if wants_phone:
        address = _network_address()
        sockets.append(_listening(address, port))
        phone = f"{address}:{port}"
        hosts.add(phone)
    keys = Keys()
    link = f"http://{LOOPBACK}:{port}/enter?key={keys.link}"

    def tell() -> None:
        _told(say, folder, link, phone, keys, wants_browser=wants_browser)

    config = uvicorn.Config(
        application(folder, keys, hosts, port=port, phone=phone),
        log_level="error",
        access_log=False,
        server_header=False,
        timeout_graceful_shutdown=2,
        lifespan="on",
    )
    server = uvicorn.Server(config)
    threading.Thread(target=_tell_when_started, args=(server, tell), daemon=True).start()
    with suppress(KeyboardInterrupt):
        server.run(sockets=sockets)
    say("stopped; everything that was entered is in the folder")


def _tell_when_started(server: Any, tell: Callable[[], None]) -> None:
    while not server.started:
        if server.should_exit:
            return
        time.sleep(0.01)
    tell()


def _told(say: Callable[[str], None], folder: Path, link: str, phone: str, keys: Keys, *, wants_browser: bool) -> None:
    say(f"holdtime is open on {folder} at\n\n  {link}\n\nThe link is yours alone. Ctrl-C ends it.")
    if phone:
        import segno

        once = f"http://{phone}/phone/{keys.new_once()}"
        say(
            "\nFor a phone on the same network, once. Whoever is on this network could read along: use one that you "
            f"trust.\n\n  {once}\n"
        )
        segno.make(once).terminal(compact=True, out=sys.stdout)
        sys.stdout.flush()
    if wants_browser and _has_browser():
        threading.Thread(target=webbrowser.open, args=(link,), daemon=True).start()


def _listening(address: str, port: int) -> socket.socket:
    found = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    if os.name == "posix":  # elsewhere it would let two programs share a port
        found.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        found.bind((address, port))
    except OSError as error:
        found.close()
        message = f"can't be used: {error.strerror}; give another number, or leave it out for one that is free"
        raise InputError(message, "--port", port) from None
    return found


def _network_address() -> str:
    """Return this machine's address on the local network; no packet is sent to find it out."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("192.0.2.1", 9))
            address = str(probe.getsockname()[0])
        except OSError:
            address = LOOPBACK
    if address.startswith("127."):
        raise InputError("this machine is on no network that a phone could share", "--phone")
    return address


def _has_browser() -> bool:
    """Tell whether there is a screen to open a browser on."""
    if sys.platform.startswith("linux") and not (os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY")):
        return False
    try:
        webbrowser.get()
    except webbrowser.Error:
        return False
    return True
