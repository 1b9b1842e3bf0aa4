"""The sockets of the bench, and pieces of pages that are rendered once."""

from __future__ import annotations

import asyncio
import socket

from jinja2 import DictLoader, Environment

from trysquare.bench.once import Once
from trysquare.bench.serving import listen_at


def test_what_is_answered_leaves_at_once() -> None:
    # Source: RFC 9293, 3.7.4 (the Nagle algorithm must be one that an application can turn off).
    said: list[int] = []

    async def answer(_: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        taken = writer.get_extra_info("socket")
        said.append(taken.getsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY))
        writer.close()

    async def visit() -> None:
        listening = listen_at("127.0.0.1", 0, others=False)
        async with await asyncio.start_server(answer, sock=listening):
            reader, writer = await asyncio.open_connection(*listening.getsockname())
            await reader.read()
            writer.close()

    asyncio.run(visit())
    assert said
    assert said[0] != 0


def test_a_piece_of_a_page_is_rendered_again_only_when_its_values_change() -> None:
    rendered: list[str] = []
    pages = Environment(
        loader=DictLoader(
            {
                "page": "{% macro row(name) %}<i>{{ seen(name) }}</i>{% endmacro %}"
                "{% for each in names %}{{ once(row, each) }}{% endfor %}"
            }
        ),
        autoescape=True,
    )

    def seen(name: str) -> str:
        rendered.append(name)
        return name

    pages.globals.update(once=Once(2), seen=seen)
    page = pages.get_template("page")
    assert page.render(names=("a", "<b>", "a")) == "<i>a</i><i>&lt;b&gt;</i><i>a</i>"
    assert rendered == ["a", "<b>"]
    page.render(names=("a", "c", "<b>"))
    assert rendered == ["a", "<b>", "c", "<b>"], "beyond the bound the least used is dropped"
