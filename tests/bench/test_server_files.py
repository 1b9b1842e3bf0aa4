"""Uploads: what a file is by its own bytes, how much, how many, and that nothing half is left behind."""

from __future__ import annotations

import asyncio
import hashlib
from pathlib import Path

import pytest

from bench.asking import Browser, event
from trysquare.bench import pages_files
from trysquare.bench.bench import Bench
from trysquare.bench.file_kinds import kind_of
from trysquare.record.keeping import FOLDER_NAME

PNG = b"\x89PNG\r\n\x1a\n" + bytes(range(256)) * 40
KINDS = (
    (b"\xff\xd8\xff\xe0" + b"x" * 20, ".jpg", ".jpg"),
    (PNG, "", ".png"),
    (PNG, ".html", ".png"),
    (b"RIFF\x00\x00\x00\x00WAVEfmt ", ".wav", ".wav"),
    (b"RIFF\x00\x00\x00\x00WEBPVP8 ", ".jpg", ".webp"),
    (b"\x00\x00\x00\x18ftypheic", ".heic", ".heic"),
    (b"\x00\x00\x00\x18ftypM4A ", ".m4a", ".m4a"),
    (b"OggS\x00", ".ogg", ".ogg"),
    (b"\x1aE\xdf\xa3\x01", ".webm", ".webm"),
    (b"time_s,acceleration\n0,1\n", ".csv", ".csv"),
    ("größe;µm\n".encode(), ".csv", ".csv"),
    (b"<svg xmlns='http://www.w3.org/2000/svg'><script>alert(1)</script></svg>", ".svg", ".txt"),
    (b"<!doctype html><script>alert(1)</script>", ".html", ".txt"),
)


@pytest.mark.parametrize(("content", "said", "suffix"), KINDS)
def test_a_file_is_what_its_bytes_say(content: bytes, said: str, suffix: str) -> None:
    kind = kind_of(content, said)
    assert kind is not None
    assert kind.suffix == suffix


@pytest.mark.slow
@pytest.mark.parametrize(
    "content", [b"MZ\x90\x00", b"\x7fELF\x02", b"PK\x03\x04\x14\x00\x08", b"\x00\x00", b"a\x07b"]
)
def test_programs_archives_and_unknown_bytes_are_not_kept(reader: Browser, content: bytes) -> None:
    assert kind_of(content, ".jpg") is None
    answer = reader.post("/files", content, x_trysquare_suffix=".jpg")
    assert answer.status_code == 415
    assert answer.json()["error"] == "not-such-a-file"


@pytest.mark.slow
def test_a_photo_is_kept_under_its_hash_and_comes_back_as_it_was(
    reed: tuple[Bench, Browser], reed_folder: Path
) -> None:
    _, computer = reed
    answer = computer.post("/files", PNG, x_trysquare_suffix=".png", content_type="image/png")
    assert answer.status_code == 200
    facts = answer.json()
    assert facts["sha256"] == hashlib.sha256(PNG).hexdigest()
    assert facts["bytes"] == len(PNG)
    assert (
        computer.say(event("photo", "feet", sha256=facts["sha256"], suffix=facts["suffix"])).status_code
        == 200
    )
    back = computer.get(f"/kept/{facts['sha256']}")
    assert back.content == PNG
    assert back.headers["content-type"] == "image/png"
    assert "sandbox" in back.headers["content-security-policy"]
    assert f"/kept/{facts['sha256']}" in computer.get("/step/feet").text
    assert [file.suffix for file in (reed_folder / FOLDER_NAME).rglob("*") if file.is_file()] == [".png"]


@pytest.mark.slow
def test_text_with_markup_comes_back_as_something_to_save(computer: Browser) -> None:
    facts = computer.post("/files", b"<script>alert(1)</script>", x_trysquare_suffix=".html").json()
    back = computer.get(f"/kept/{facts['sha256']}")
    assert back.headers["content-type"].startswith("text/plain")
    assert back.headers["content-disposition"].startswith("attachment")
    assert back.headers["x-content-type-options"] == "nosniff"


def test_the_same_file_twice_is_kept_once(reed_folder: Path, computer: Browser) -> None:
    assert computer.post("/files", PNG).json() == computer.post("/files", PNG).json()
    assert sum(file.is_file() for file in (reed_folder / FOLDER_NAME).rglob("*")) == 1


def test_an_empty_file_is_refused(computer: Browser) -> None:
    assert computer.post("/files", b"").status_code == 400


def test_a_file_that_is_too_large_is_refused_and_leaves_nothing(
    reed_folder: Path, computer: Browser, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(pages_files, "MOST_BYTES", 5000)
    assert computer.post("/files", PNG).status_code == 413
    assert not [file for file in (reed_folder / FOLDER_NAME).rglob("*") if file.is_file()]


def test_a_length_that_is_a_lie_does_not_get_more_through(
    reed_folder: Path, computer: Browser, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(pages_files, "MOST_BYTES", 5000)
    assert computer.post("/files", PNG, content_length="10").status_code in (400, 413)
    assert not [file for file in (reed_folder / FOLDER_NAME).rglob("*") if file.is_file()]


def test_too_many_files_are_refused(computer: Browser, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(pages_files, "MOST_FILES", 1)
    assert computer.post("/files", PNG).status_code == 200
    assert computer.post("/files", PNG + b"x").status_code == 413


def test_files_that_come_in_many_pieces_are_whole(reed: tuple[Bench, Browser]) -> None:
    """More pieces than may wait for the disk."""
    import httpx

    _, computer = reed
    pieces = [PNG, *(bytes([number]) * 70_000 for number in range(60))]

    async def ask() -> httpx.Response:
        async def body() -> object:
            for piece in pieces:
                yield piece

        transport = httpx.ASGITransport(computer.app, client=("127.0.0.1", 4))
        cookie = "; ".join(f"{name}={value}" for name, value in computer.cookies.items())
        async with httpx.AsyncClient(transport=transport, base_url=computer.base) as client:
            headers = {"cookie": cookie, "x-trysquare-token": token, "origin": computer.base}
            return await client.post("/files", content=body(), headers=headers)  # type: ignore[arg-type]

    token = computer.token
    facts = asyncio.run(ask()).json()
    assert facts["sha256"] == hashlib.sha256(b"".join(pieces)).hexdigest()


def test_a_sender_that_goes_away_leaves_nothing_behind(
    reed: tuple[Bench, Browser], reed_folder: Path
) -> None:
    bench, computer = reed
    token = computer.token
    came = iter([
        {"type": "http.request", "body": PNG, "more_body": True},
        {"type": "http.disconnect"},
    ])  # fmt: skip

    async def receive() -> object:
        return next(came)

    sent: list[dict[str, object]] = []

    async def send(message: dict[str, object]) -> None:
        sent.append(message)

    headers = {
        "host": "localhost:8470", "x-trysquare-token": token, "origin": computer.base,
        "cookie": "; ".join(f"{name}={value}" for name, value in computer.cookies.items()),
    }  # fmt: skip
    scope = {
        "type": "http", "method": "POST", "path": "/files", "raw_path": b"/files", "query_string": b"",
        "headers": [(name.encode(), value.encode()) for name, value in headers.items()], "scheme": "http",
        "client": ("127.0.0.1", 5), "server": ("127.0.0.1", 8470), "http_version": "1.1", "root_path": "",
    }  # fmt: skip
    asyncio.run(computer.app(scope, receive, send))
    assert sent[0]["status"] == 400
    assert not [file for file in (reed_folder / FOLDER_NAME).rglob("*") if file.is_file()]
    assert bench.uploads == 0


@pytest.mark.parametrize(
    ("content", "inside"),
    [(b"a note, no photo\n", "what is in it is text"),
     (b"RIFF\x00\x00\x00\x00WAVEfmt ", "what is in it is sound"),
     (b"%PDF-1.7\n", "what is in it is a .pdf file"),
     (b"MZ\x90\x00", "what is in it is no kind of picture that is known here")],
)  # fmt: skip
def test_what_is_called_a_photo_and_is_none_is_refused_in_words_and_leaves_no_file(
    reed: tuple[Bench, Browser], reed_folder: Path, content: bytes, inside: str
) -> None:
    bench, computer = reed
    answer = computer.post("/files", content, x_trysquare_suffix=".jpg", x_trysquare_sort="photo")
    assert answer.status_code == 415
    assert (
        answer.json()["says"]
        == f"This is no photo. Its name ends in .jpg, but {inside}: nothing was kept of it."
    )
    assert not (reed_folder / FOLDER_NAME).exists()
    assert bench.desk.state.photos == ()


def test_a_kept_file_that_is_no_picture_cannot_be_said_to_be_a_photo(reed: tuple[Bench, Browser]) -> None:
    bench, computer = reed
    facts = computer.post("/files", b"a note, no photo\n", x_trysquare_suffix=".jpg").json()
    assert facts["suffix"] == ".txt"
    for suffix in (".jpg", ".txt"):
        answer = computer.say(event("photo", "feet", sha256=facts["sha256"], suffix=suffix))
        assert answer.status_code == 400
        assert "what is in it is text" in answer.json()["says"]
    assert computer.say(event("file", "feet", sha256=facts["sha256"], suffix=".txt")).status_code == 200
    assert (bench.desk.state.photos, len(bench.desk.state.files)) == ((), 1)


def test_a_photo_of_the_step_has_a_way_back(reed: tuple[Bench, Browser]) -> None:
    _, computer = reed
    facts = computer.post("/files", PNG, x_trysquare_suffix=".png", x_trysquare_sort="photo").json()
    photo = event("photo", "feet", sha256=facts["sha256"], suffix=".png")
    computer.say(photo)
    shown = computer.get("/step/feet").text
    photos = shown[shown.index('<ul class="photos">') :].partition("</ul>")[0]
    assert 'data-say="undo"' in photos
    assert photo["id"] in photos
    computer.say(event("undo", "feet", of=photo["id"]))
    assert '<ul class="photos">' not in computer.get("/step/feet").text
