"""Requests from elsewhere are refused, whatever else is right about them."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from tests.thermal_model.workbench.conftest import ANSWERS, HOST
from thermal_model.workbench.guard import LARGEST_BODY


def test_nothing_is_given_without_the_link(stranger: TestClient) -> None:
    for path in ("/", "/assets/workbench.css", "/containers/new", "/nowhere"):
        assert stranger.get(path).status_code == 403, path
    assert stranger.get("/enter?key=guess").status_code == 403
    assert stranger.get("/enter").status_code == 403
    assert stranger.get("/phone/guess").status_code == 403


def test_the_cookie_is_out_of_reach_of_scripts_and_other_sites(stranger: TestClient) -> None:
    answer = stranger.get(f"/enter?key={stranger.keys.link}")  # type: ignore[attr-defined]
    cookie = answer.headers["set-cookie"].lower()
    assert "httponly" in cookie
    assert "samesite=strict" in cookie
    assert stranger.keys.link not in answer.headers["set-cookie"]  # type: ignore[attr-defined]


@pytest.mark.parametrize(
    "host", ["evil.example", "127.0.0.1", "127.0.0.1:80", f"{HOST}.evil.example", "[::1]:8123", ""]
)
def test_a_name_that_was_bound_to_this_machine_is_refused(client: TestClient, host: str) -> None:
    assert client.get("/", headers={"host": host}).status_code == 421
    assert client.get("/").status_code == 200


@pytest.mark.parametrize("origin", ["http://evil.example", "null", "https://127.0.0.1:8123", "http://127.0.0.1:81", ""])
def test_posts_from_other_pages_do_nothing(client: TestClient, folder: Path, origin: str) -> None:
    answer = client.post("/containers/new", data={**ANSWERS, "name": "slim"}, headers={"origin": origin})
    assert answer.status_code == 403
    assert list(folder.iterdir()) == []


def test_a_post_that_does_not_say_where_it_comes_from_does_nothing(client: TestClient, folder: Path) -> None:
    del client.headers["origin"]
    assert client.post("/containers/new", data={**ANSWERS, "name": "slim"}).status_code == 403
    assert list(folder.iterdir()) == []


def test_other_pages_may_not_read_along(client: TestClient) -> None:
    for site in ("cross-site", "same-site"):
        refused = client.get("/", headers={"sec-fetch-site": site, "sec-fetch-mode": "no-cors"})
        assert refused.status_code == 403
    assert client.get("/", headers={"sec-fetch-site": "cross-site", "sec-fetch-mode": "navigate"}).status_code == 200


@pytest.mark.parametrize("method", ["PUT", "DELETE", "PATCH", "OPTIONS", "TRACE"])
def test_other_methods_are_refused(client: TestClient, method: str) -> None:
    assert client.request(method, "/").status_code == 405


def test_a_body_of_a_gigabyte_is_refused_unread(client: TestClient) -> None:
    headers = {"content-length": "1000000000", "content-type": "application/x-www-form-urlencoded"}
    assert client.post("/containers/new", content=b"name=slim", headers=headers).status_code == 413


def test_a_body_that_does_not_tell_its_size_is_cut_off(client: TestClient) -> None:
    sent = 0

    def chunks() -> Iterator[bytes]:
        nonlocal sent
        for _ in range(1000):
            sent += 1_000_000
            yield b"a" * 1_000_000

    headers = {"content-type": "application/x-www-form-urlencoded"}
    answer = client.post("/containers/new", content=chunks(), headers=headers)
    assert answer.status_code == 413
    assert client.get("/").status_code == 200
    assert LARGEST_BODY < 1e8


@pytest.mark.parametrize(
    "path", ["/../etc/passwd", "/assets/../guard.py", "/assets/..%2Fguard.py", "/assets/%2e%2e/app.py"]
)
def test_no_path_leads_out(client: TestClient, path: str) -> None:
    answer = client.get(path)
    assert answer.status_code == 404
    assert "root:" not in answer.text
    assert "import" not in answer.text


def test_pages_load_nothing_but_their_own(client: TestClient) -> None:
    policy = client.get("/").headers["content-security-policy"]
    assert "default-src 'none'" in policy
    assert "unsafe" not in policy
    assert "http" not in policy
    assert "<script>" not in client.get("/containers/new").text


def test_no_phone_is_let_in_unasked(client: TestClient) -> None:
    assert client.post("/let-phone-in").status_code == 422
    assert "Let a phone in" not in client.get("/").text


def test_a_phone_gets_in_once(stranger: TestClient) -> None:
    once = stranger.keys.new_once()  # type: ignore[attr-defined]
    assert stranger.get(f"/phone/{once}").status_code == 303
    stranger.cookies.clear()
    assert stranger.get(f"/phone/{once}").status_code == 403
