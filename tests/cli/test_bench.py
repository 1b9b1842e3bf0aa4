"""`trysquare bench` on the command line: what it refuses, which doors it opens, and for whom."""

from __future__ import annotations

import socket
from pathlib import Path

import pytest

from command_line import Run
from trysquare.bench import lan
from trysquare.bench.serving import Door, listen_at
from trysquare.cli import bench as command
from trysquare.cli.answers import NotThere
from trysquare.ground.errors import ReadingError

REED = Path(__file__).parents[2] / "demo" / "reed-joints"


@pytest.fixture(autouse=True)
def own_home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))


@pytest.fixture
def doors() -> list[Door]:
    return [Door(listening=listen_at("127.0.0.1", 0, others=False))]


def shut(doors: list[Door]) -> None:
    for door in doors:
        door.listening.close()


def test_plain_is_refused_without_lan(run: Run) -> None:
    answer = run("bench", REED, "--plain")
    assert answer.status == 2
    assert "--lan" in answer.err


def test_a_folder_that_is_none_is_said(run: Run, tmp_path: Path) -> None:
    answer = run("bench", tmp_path / "nothing")
    assert answer.status == 2
    assert "is no folder" in answer.err


def test_a_port_that_is_taken_is_said_and_another_one_is_found_only_where_none_was_named(run: Run) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        answer = run("bench", REED, "--port", str(port), "--no-open-browser")
        assert answer.status == 2
        assert "a port that nobody else listens at" in answer.err
        with pytest.raises(ReadingError):
            listen_at("127.0.0.1", port, others=False)
        if port < 65000:
            other = listen_at("127.0.0.1", port, others=True)
            assert other.getsockname()[1] > port
            other.close()


def test_without_lan_there_is_one_door_on_this_computer_alone(doors: list[Door]) -> None:
    opening = command.opening_of("reed", doors, lan=False, plain=False)
    assert [door.listening.getsockname()[0] for door in doors] == ["127.0.0.1"]
    assert opening.addresses == ()
    assert opening.hosts == {"localhost", "127.0.0.1", "::1"}
    assert "--lan" in opening.how_to_open
    shut(doors)


def test_with_lan_there_is_a_second_door_with_a_certificate(
    doors: list[Door], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(lan, "own_addresses", lambda: ("192.168.7.20",))
    opening = command.opening_of("reed", doors, lan=True, plain=False)
    assert doors[0].chain is None
    assert doors[1].chain is not None
    assert doors[1].chain.is_file()
    assert opening.addresses[0] == f"https://192.168.7.20:{doors[1].port}/"
    assert opening.https
    assert opening.certificate is not None
    assert opening.certificate.startswith(b"-----BEGIN CERTIFICATE-----")
    assert len(opening.fingerprint.split(":")) == 32
    shut(doors)


def test_plain_lan_has_no_certificate(doors: list[Door], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(lan, "own_addresses", lambda: ("192.168.7.20",))
    opening = command.opening_of("reed", doors, lan=True, plain=True)
    assert doors[1].chain is None
    assert opening.addresses[0].startswith("http://192.168.7.20:")
    assert opening.certificate is None
    shut(doors)


def test_without_a_network_lan_is_refused(doors: list[Door], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(lan, "own_addresses", lambda: ())
    with pytest.raises(NotThere):
        command.opening_of("reed", doors, lan=True, plain=False)
    shut(doors)


@pytest.mark.parametrize(
    ("content", "name"),
    [('name = "Reed"', "Reed"), ("name = 3", "folder"), ("name = ", "folder"), (None, "folder"),
     ('name = ""', "folder")],
)  # fmt: skip
def test_the_log_is_begun_under_the_machines_name_or_the_folders(
    tmp_path: Path, content: str | None, name: str
) -> None:
    folder = tmp_path / "folder"
    folder.mkdir()
    if content is not None:
        (folder / "machine.toml").write_text(content, "utf-8")
    assert command._machine_name(folder) == name
