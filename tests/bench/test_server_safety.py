"""Who gets nothing: devices that have not joined, other sites' pages, false names, paths that lead out."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from bench.asking import Browser, event, joined, stranger
from bench.test_server_pages import PAGES
from trysquare.bench.bench import Bench
from trysquare.bench.safety import COOKIE, HEADERS, OPEN_PATHS

LOCKED = (
    *PAGES, "/worker.js", "/step/feet/picture.svg", "/step/feet/3d.json", "/drawn/x.svg", "/solids/x.bin",
    "/film/lists.txt", "/changes", "/changes?after=0", "/kept/0", "/join/code.svg", "/reed/base", "/nothing",
)  # fmt: skip


HOSTS = (
    "evil.example", "localhost.evil.example", "192.168.7.21", "", "127.0.0.1.nip.io",
    "localhost, evil.example",
    "localhost@evil.example",
)  # fmt: skip


@pytest.mark.parametrize("path", LOCKED)
def test_a_device_that_has_not_joined_gets_nothing(reader: Browser, path: str) -> None:
    answer = stranger(reader).get(path)
    assert answer.status_code == 401
    assert "set-cookie" not in answer.headers
    for word in ("Reed", "reed", "Feet", "rail", "base plate"):
        assert word not in answer.text.replace("already", "")


@pytest.mark.slow
@pytest.mark.parametrize("path", ["/log", "/files", "/join/revoke", "/", "/step/feet"])
def test_a_device_that_has_not_joined_posts_nothing(reed: tuple[Bench, Browser], path: str) -> None:
    bench, computer = reed
    answer = stranger(computer).ask("POST", path, body=b"{}", headers={"x-trysquare-token": computer.token})
    assert answer.status_code == 401
    assert bench.desk.state.seq == 0


def test_only_styles_scripts_and_the_certificate_are_open_to_strangers(reader: Browser) -> None:
    assert OPEN_PATHS == ("/join", "/certificate.crt", "/static/")
    assert stranger(reader).get("/static/sign.svg").status_code == 200
    assert stranger(reader).get("/certificate.crt").status_code == 200


@pytest.mark.parametrize("secret", ["", "x", "A" * 5000, "é", "\x7f", "..", "%00"])
def test_a_secret_that_was_made_up_opens_nothing(reader: Browser, secret: str) -> None:
    phone = stranger(reader)
    answer = phone.ask("GET", "/", headers={"cookie": f"__Host-{COOKIE}={secret}".encode().decode("latin-1")})
    assert answer.status_code == 401


def test_a_cookie_of_plain_http_is_none_over_https(reed: tuple[Bench, Browser]) -> None:
    """Whoever can write cookies for http must not become somebody over https."""
    _, computer = reed
    computer.get("/")
    secret = computer.cookies[COOKIE]
    assert stranger(computer).ask("GET", "/", headers={"cookie": f"{COOKIE}={secret}"}).status_code == 401


@pytest.mark.parametrize("host", HOSTS)
@pytest.mark.parametrize("path", ["/", "/static/sign.svg", "/join", "/log"])
def test_a_false_host_gets_nothing(reader: Browser, host: str, path: str) -> None:
    answer = reader.ask("GET", path, headers={"host": host})
    assert answer.status_code == 421
    assert "set-cookie" not in answer.headers


def test_a_device_of_the_network_that_says_localhost_is_still_a_stranger(reader: Browser) -> None:
    phone = Browser(reader.app, base="http://localhost:8470", address="192.168.7.31")
    assert phone.get("/").status_code == 401
    assert phone.get("/join").status_code == 401


@pytest.mark.slow
@pytest.mark.parametrize(
    "headers",
    [
        {"x-trysquare-token": ""},
        {"x-trysquare-token": "0" * 64},
        {"origin": "https://evil.example"},
        {"origin": "null"},
        {"origin": "http://localhost:9999"},
        {"sec-fetch-site": "cross-site"},
        {"sec-fetch-site": "same-site"},
    ],
)
def test_a_post_without_the_pages_token_or_from_elsewhere_is_refused(
    reed: tuple[Bench, Browser], headers: dict[str, str]
) -> None:
    bench, computer = reed
    said = {"x-trysquare-token": computer.token, "origin": computer.base} | headers
    assert computer.ask("POST", "/log", body=b'{"events":[]}', headers=said).status_code == 403
    assert computer.ask("POST", "/files", body=b"abc", headers=said).status_code == 403
    assert bench.desk.state.seq == 0


def test_one_devices_token_is_no_other_devices(reed: tuple[Bench, Browser]) -> None:
    bench, computer = reed
    phone = joined(bench, computer)
    answer = phone.ask("POST", "/log", body=b'{"events":[]}',
                       headers={"x-trysquare-token": computer.token, "origin": phone.base})  # fmt: skip
    assert answer.status_code == 403


@pytest.mark.parametrize(
    "path", ["/", "/step/feet", "/nothing", "/static/sign.svg", "/log", "/parts", "/files"]
)
def test_every_answer_has_the_headers_of_safety(reader: Browser, path: str) -> None:
    answer = reader.get(path)
    for name in HEADERS:
        assert name in answer.headers, (path, name)
    assert "unsafe" not in answer.headers["content-security-policy"]
    assert "server" not in answer.headers


def test_the_cookie_is_given_to_no_script_and_no_other_site(reed: tuple[Bench, Browser]) -> None:
    bench, computer = reed
    said = computer.get("/").headers["set-cookie"]
    for word in ("HttpOnly", "SameSite=Strict", "Path=/"):
        assert word in said
    phone = stranger(computer)
    token = re.search(r'name="join_token" value="([0-9a-f]+)"', phone.get("/join").text)
    assert token is not None
    body = f"code={bench.devices.new_code()}&name=x&join_token={token[1]}".encode()
    said = phone.ask("POST", "/join", body=body, headers={"origin": phone.base}).headers["set-cookie"]
    assert said.startswith("__Host-")
    assert "Secure" in said


OUTSIDE = ("../machine.toml", "..%2Fmachine.toml", "%2e%2e/views.py", "..%5c..%5cviews.py", "/etc/passwd",
           "....//views.py", "dist/../../views.py", "dist/%2e%2e/%2e%2e/app.py", "\0", "con")  # fmt: skip


@pytest.mark.parametrize("name", OUTSIDE)
@pytest.mark.parametrize("root", ["/static/", "/drawn/", "/solids/", "/kept/", "/film/"])
def test_no_path_leads_out_of_its_folder(reader: Browser, root: str, name: str) -> None:
    answer = reader.ask("GET", root + name.replace("\0", "%00"))
    assert answer.status_code in (404, 414, 307)  # 307 only where the client has tidied it to a label
    assert "root:" not in answer.text
    assert "from __future__" not in answer.text
    assert "format = 1" not in answer.text


@pytest.mark.parametrize("method", ["PUT", "DELETE", "PATCH", "TRACE", "OPTIONS", "CONNECT"])
def test_no_other_method_is_taken(reader: Browser, method: str) -> None:
    assert reader.ask(method, "/").status_code == 405


def test_a_very_long_address_is_refused(reader: Browser) -> None:
    assert reader.get("/part/" + "x" * 5000).status_code == 414


def test_local_browsers_are_told_apart(reed: tuple[Bench, Browser]) -> None:
    """Two windows on this computer may contradict each other; they must not pass for one device."""
    bench, computer = reed
    other = Browser(computer.app)
    computer.say(event("note", says="one"))
    other.say(event("note", says="two"))
    assert len({one.said.device for one in bench.desk.state.notes}) == 2


def test_a_link_beside_the_machine_is_not_followed_for_what_is_kept(
    reed_folder: Path, tmp_path: Path
) -> None:
    from bench.asking import opened

    cache = reed_folder / ".trysquare-cache"
    elsewhere = tmp_path / "elsewhere"
    cache.rename(elsewhere)
    cache.symlink_to(elsewhere)
    bench, _ = opened(reed_folder)
    assert not bench.workshop.kept.folder.resolve().is_relative_to(elsewhere)
    bench.desk.close()
