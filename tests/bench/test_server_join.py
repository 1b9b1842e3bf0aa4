"""Joining by a one-time code, and being shut out again."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from bench.asking import Browser, joined, opened, stranger
from trysquare.bench import devices as rules
from trysquare.bench.bench import Bench, Opening
from trysquare.bench.devices import Devices, TooManyTries, shown_code


class Clock:
    """A clock that goes when it is told to."""

    def __init__(self) -> None:
        self.at = 1_900_000_000.0

    def __call__(self) -> float:
        return self.at


def form(phone: Browser, code: str, name: str = "phone", token: str | None = None) -> int:
    found = re.search(r'name="join_token" value="([0-9a-f]+)"', phone.get("/join").text)
    assert found is not None
    body = f"code={code}&name={name}&join_token={token if token is not None else found[1]}"
    answer = phone.ask("POST", "/join", body=body.encode(), headers={"origin": phone.base})
    return answer.status_code


def test_a_code_lets_one_device_in_once(reed: tuple[Bench, Browser]) -> None:
    bench, computer = reed
    code = bench.devices.new_code()
    phone, other = stranger(computer), stranger(computer)
    assert form(phone, shown_code(code)) == 303
    assert phone.get("/").status_code == 200
    assert form(other, code) == 403
    assert other.get("/").status_code == 401


def test_looking_at_the_codes_address_does_not_use_it_up(reed: tuple[Bench, Browser]) -> None:
    """A phone's camera, or a preview, may ask before the person does."""
    bench, computer = reed
    code = bench.devices.new_code()
    phone = stranger(computer)
    for _ in range(3):
        answer = phone.get(f"/join?code={code}")
        assert answer.status_code == 401
        assert f'value="{code}"' in answer.text
    assert form(phone, code) == 303


def test_only_the_computer_at_the_bench_sees_codes_and_devices(reed: tuple[Bench, Browser]) -> None:
    bench, computer = reed
    phone = joined(bench, computer, "Anna")
    page = computer.get("/join").text
    assert re.search(r"[A-Z2-9]{4}-[A-Z2-9]{4}", page)
    assert "Anna" in page
    other = phone.get("/join").text
    assert not re.search(r'class="code"', other)
    assert "Have joined" not in other
    assert phone.get("/join/code.svg?code=AAAA").status_code == 404


def test_a_device_is_shut_out_at_once_and_only_from_the_bench(reed: tuple[Bench, Browser]) -> None:
    bench, computer = reed
    phone, other = joined(bench, computer, "one"), joined(bench, computer, "two")
    identity = next(one.id for one in bench.devices.all() if one.name == "two")

    def shut_out(who: Browser, token: str) -> int:
        body = f"device={identity}&token={token}".encode()
        return who.ask("POST", "/join/revoke", body=body, headers={"origin": who.base}).status_code

    assert shut_out(phone, phone.token) == 403
    computer.get("/")
    assert shut_out(computer, "0" * 64) == 403
    assert other.get("/").status_code == 200
    assert shut_out(computer, computer.token) == 303
    assert other.get("/").status_code == 401
    assert phone.get("/").status_code == 200


def test_devices_are_still_known_after_a_new_start(reed: tuple[Bench, Browser], reed_folder: Path) -> None:
    bench, computer = reed
    phone = joined(bench, computer)
    again, browser = opened(reed_folder)
    back = Browser(browser.app, base=phone.base, address=phone.address, cookies=dict(phone.cookies))
    assert back.get("/").status_code == 200
    assert back.token == phone.token
    again.desk.close()


def test_what_is_kept_of_devices_is_the_owners_alone_and_holds_no_secret(
    reed: tuple[Bench, Browser], own_home: Path
) -> None:
    bench, computer = reed
    phone = joined(bench, computer)
    files = list(own_home.rglob("devices-*.json"))
    assert files
    for file in files:
        assert file.stat().st_mode & 0o077 == 0
        for secret in phone.cookies.values():
            assert secret not in file.read_text("utf-8")


def test_a_form_without_the_pages_token_is_refused(reed: tuple[Bench, Browser]) -> None:
    bench, computer = reed
    assert form(stranger(computer), bench.devices.new_code(), token="") == 403
    assert form(stranger(computer), bench.devices.new_code(), token="0" * 64) == 403


def test_wrong_codes_make_everybody_wait_and_then_they_may_try_again() -> None:
    clock = Clock()
    devices = Devices(None, clock)
    code = devices.new_code()
    for _ in range(rules.MOST_WRONG):
        assert devices.join("AAAAAAAA", "x") is None
    with pytest.raises(TooManyTries):
        devices.join(code, "x")
    clock.at += rules.WRONG_SECONDS
    assert devices.join(code, "x") is not None


def test_a_code_grows_old() -> None:
    clock = Clock()
    devices = Devices(None, clock)
    code = devices.new_code()
    clock.at += rules.CODE_SECONDS
    assert devices.join(code, "x") is None


def test_only_the_last_few_codes_are_good() -> None:
    devices = Devices(None, Clock())
    first = devices.new_code()
    for _ in range(rules.MOST_CODES):
        devices.new_code()
    assert devices.join(first, "x") is None


def test_a_device_that_was_long_away_must_join_again() -> None:
    clock = Clock()
    devices = Devices(None, clock)
    secret = devices.join(devices.new_code(), "x")
    assert secret is not None
    clock.at += rules.IDLE_SECONDS - 1
    assert devices.known(secret) is not None
    clock.at += rules.IDLE_SECONDS + 1
    assert devices.known(secret) is None
    assert devices.all() == ()


def test_two_devices_never_have_one_name() -> None:
    devices = Devices(None, Clock())
    names = []
    for said in ("phone", "phone", "  phone ", "\x1bphone\n", "", "x" * 500):
        secret = devices.join(devices.new_code(), said)
        assert secret is not None
        device = devices.known(secret)
        assert device is not None
        names.append(device.name)
    assert len(set(names)) == len(names)
    assert all(name.isprintable() and len(name) <= 48 for name in names)


@pytest.mark.parametrize("content", [b"", b"{", b"[1]", b'[{"id": 1}]',
                                     b'[{"id":"x","name":1,"since":0,"seen":0}]',
                                     b"\xff\xfe"])  # fmt: skip
def test_a_damaged_file_of_devices_lets_nobody_in(tmp_path: Path, content: bytes) -> None:
    file = tmp_path / "devices.json"
    file.write_bytes(content)
    assert Devices(file, Clock()).all() == ()


def test_browsers_without_cookies_do_not_push_out_devices_that_joined() -> None:
    clock = Clock()
    devices = Devices(None, clock)
    secret = devices.join(devices.new_code(), "tablet")
    assert secret is not None
    for _ in range(rules.MOST_DEVICES + 10):
        clock.at += 1
        devices.welcome_local()
    assert devices.known(secret) is not None
    assert len(devices.all()) <= rules.MOST_DEVICES


def test_a_bench_that_is_not_open_says_how_to_open_it(reed_folder: Path) -> None:
    closed = Opening(how_to_open="trysquare bench reed --lan")
    bench, browser = opened(reed_folder, closed)
    page = browser.get("/join").text
    assert "trysquare bench reed --lan" in page
    assert browser.get("/certificate.crt").status_code == 404
    assert browser.get("/join/code.svg").status_code == 404
    bench.desk.close()


def test_the_code_for_the_camera_is_a_drawing_of_the_address(reed: tuple[Bench, Browser]) -> None:
    import io

    import resvg_py
    import zxingcpp

    _, computer = reed
    page = computer.get("/join").text
    found = re.search(r'src="(/join/code\.svg\?code=([A-Z2-9]{8}))"', page)
    assert found is not None
    drawn = computer.get(found[1])
    assert drawn.headers["cache-control"] == "no-store"
    from PIL import Image

    png = bytes(resvg_py.svg_to_bytes(svg_string=drawn.text))
    # Source: read by another program, zxing-cpp
    read = zxingcpp.read_barcodes(Image.open(io.BytesIO(png)))
    assert [one.text for one in read] == [f"https://192.168.7.20:8471/join?code={found[2]}"]
