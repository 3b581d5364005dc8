"""`holdtime open`: starts, says its link, listens on the loopback address alone, ends cleanly."""

import re
import signal
import socket
import subprocess
import sys
from pathlib import Path

import httpx2
import psutil

from tests.cli.conftest import Command

ENTER = "from thermal_model.cli.main import run; run()"


def test_a_session(tmp_path: Path) -> None:
    folder = tmp_path / "kitchen"
    process = subprocess.Popen(
        [sys.executable, "-c", ENTER, "open", str(folder), "--no-browser"], stdout=subprocess.PIPE, text=True
    )
    try:
        assert process.stdout is not None
        link = next(found.group() for line in process.stdout if (found := re.search(r"http://\S+", line)))
        with httpx2.Client(follow_redirects=True) as browser:
            assert "None yet" in browser.get(link).text
        listening = [c for c in psutil.Process(process.pid).net_connections() if c.status == psutil.CONN_LISTEN]
        assert [c.laddr.ip for c in listening] == ["127.0.0.1"]
        process.send_signal(signal.SIGINT)
        assert "stopped" in process.stdout.read()
        assert process.wait(timeout=30) == 0
    finally:
        process.kill()
        process.wait()
        process.stdout.close()
    assert list(folder.iterdir()) == []


def test_a_port_that_is_taken_is_told(holdtime: Command, tmp_path: Path) -> None:
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = taken.getsockname()[1]
        result = holdtime("open", tmp_path, "--no-browser", "--port", str(port))
    assert result.exit_code == 2
    assert "--port" in result.output
    assert "in use" in result.output


def test_a_file_is_no_folder(holdtime: Command, tmp_path: Path) -> None:
    file = tmp_path / "mine.toml"
    file.write_text("x", encoding="utf-8")
    assert "is a file; give a folder" in holdtime("open", file).output
    assert "make it first" in holdtime("open", tmp_path / "a" / "b").output
