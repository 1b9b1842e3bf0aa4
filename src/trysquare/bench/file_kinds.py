"""What a file is, by its own first bytes: what is said of it is not believed. Pure."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

ENOUGH_BYTES = 4096
"""So many first bytes tell."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FileKind:
    """A kind of file that the bench keeps. `media`: how it is given back; `shown`: whether a browser may show
    or play it in its place, rather than save it."""

    suffix: str
    media: str
    shown: bool = True

    @property
    def is_picture(self) -> bool:
        """Whether it can be a photo."""
        return self.media.startswith("image/")

    @property
    def told(self) -> str:
        """What it is, in a word or two."""
        sort = self.media.partition("/")[0]
        if self.suffix in _TEXTS:
            return "text"
        return {"image": "a picture", "audio": "sound", "video": "a film"}.get(sort, f"a {self.suffix} file")


_KINDS: Mapping[str, FileKind] = {
    kind.suffix: kind
    for kind in (
        FileKind(suffix=".jpg", media="image/jpeg"),
        FileKind(suffix=".png", media="image/png"),
        FileKind(suffix=".gif", media="image/gif"),
        FileKind(suffix=".webp", media="image/webp"),
        FileKind(suffix=".avif", media="image/avif"),
        FileKind(suffix=".heic", media="image/heic"),
        FileKind(suffix=".wav", media="audio/wav"),
        FileKind(suffix=".flac", media="audio/flac"),
        FileKind(suffix=".ogg", media="audio/ogg"),
        FileKind(suffix=".mp3", media="audio/mpeg"),
        FileKind(suffix=".webm", media="video/webm"),
        FileKind(suffix=".mp4", media="video/mp4"),
        FileKind(suffix=".m4a", media="audio/mp4"),
        FileKind(suffix=".pdf", media="application/pdf", shown=False),
        FileKind(suffix=".csv", media="text/csv; charset=utf-8", shown=False),
        FileKind(suffix=".json", media="application/json", shown=False),
        FileKind(suffix=".jsonl", media="application/x-ndjson", shown=False),
        FileKind(suffix=".txt", media="text/plain; charset=utf-8", shown=False),
    )
}
_FROM_START: tuple[tuple[bytes, str], ...] = (
    (b"\xff\xd8\xff", ".jpg"), (b"\x89PNG\r\n\x1a\n", ".png"), (b"GIF87a", ".gif"), (b"GIF89a", ".gif"),
    (b"fLaC", ".flac"), (b"OggS", ".ogg"), (b"ID3", ".mp3"), (b"\x1aE\xdf\xa3", ".webm"), (b"%PDF-", ".pdf"),
)  # fmt: skip
_BRANDS: Mapping[bytes, str] = {
    b"avif": ".avif", b"avis": ".avif", b"heic": ".heic", b"heix": ".heic", b"hevc": ".heic",
    b"mif1": ".heic", b"M4A ": ".m4a", b"M4B ": ".m4a",
}  # fmt: skip
_TEXTS = frozenset({".csv", ".json", ".jsonl", ".txt"})


def kind_of(first: bytes, said: str) -> FileKind | None:
    """The kind of a file by its first bytes; None for what the bench does not keep.

    `said`: the ending that was given for it, which only chooses between kinds of text.
    """
    suffix = _suffix_of(first) or _text_suffix(first, said)
    return _KINDS[suffix] if suffix else None


def kind_named(suffix: str) -> FileKind:
    """The kind of a file that is kept; anything unknown is bytes to be saved."""
    return _KINDS.get(suffix, FileKind(suffix=suffix, media="application/octet-stream", shown=False))


def _suffix_of(first: bytes) -> str:
    for begin, suffix in _FROM_START:
        if first.startswith(begin):
            return suffix
    if first[:4] == b"RIFF":
        return {b"WAVE": ".wav", b"WEBP": ".webp"}.get(first[8:12], "")
    if first[4:8] == b"ftyp":
        return _BRANDS.get(first[8:12], ".mp4")
    if len(first) > 1 and first[0] == 0xFF and first[1] & 0xE6 == 0xE2:  # a frame of MPEG audio, layer III
        return ".mp3"
    return ""


def _text_suffix(first: bytes, said: str) -> str:
    """Text in UTF-8 without control signs; the last letter may be cut."""
    if not first or b"\0" in first:
        return ""
    for cut in range(4):
        try:
            text = first[: len(first) - cut].decode("utf-8")
        except UnicodeDecodeError:
            continue
        if any(sign < " " and sign not in "\t\r\n\f" for sign in text):
            return ""
        return said if said in _TEXTS else ".txt"
    return ""
