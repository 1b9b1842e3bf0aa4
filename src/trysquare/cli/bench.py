"""`trysquare bench`: the web app beside the work, served from this computer."""

from __future__ import annotations

import contextlib
import hashlib
import os
import sys
import time
import tomllib
import webbrowser
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from trysquare.cli import cache
from trysquare.cli.answers import CLEAN, NotThere, print_json, talk, unreadable
from trysquare.cli.teaching import COMMON_EXITS, FOLDER_INPUT, Taught, folder_argument, json_option
from trysquare.cli.words import quoted

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trysquare.bench.bench import Opening
    from trysquare.bench.serving import Door

PORT = 8470
HOW_TO_OPEN = "To join with a phone or tablet, stop it and start it again as: trysquare bench {folder} --lan"


@click.command(
    "bench",
    cls=Taught,
    learns="Build with your machine's own pages beside you: each step, its parts, readings and open points.",
    inputs=(
        FOLDER_INPUT,
        ("", "What you say at the bench is kept in log.sqlite and log-files/ of the folder."),
    ),
    examples=(
        "trysquare bench demo/larch",
        "trysquare bench demo/reed-joints --lan --no-open-browser",
    ),
    exits=((0, "it was stopped"), *COMMON_EXITS),
)
@folder_argument
@click.option(
    "--port",
    type=click.IntRange(0, 65535),
    help=f"Listen at this port; 0: any that is free.  [default: {PORT}, or one of the next]",
)
@click.option(
    "--lan",
    is_flag=True,
    help="Let phones and tablets of this network join by a one-time code, over https.  "
    "[default: this computer alone]",
)
@click.option(
    "--plain",
    is_flag=True,
    help="With --lan: http in place of https. Browsers then keep microphone and wake lock shut.  "
    "[default: https by a certificate of your own]",
)
@click.option(
    "--log",
    "log_place",
    metavar="PLACE",
    help="Keep the build log elsewhere: a folder, or a database's address.  [default: the machine folder]",
)
@click.option(
    "--open-browser/--no-open-browser",
    default=True,
    help="Open the first page in your browser.  [default: it is opened]",
)
@json_option
def command(
    folder: str,
    papers: tuple[str, ...],
    port: int | None,
    lan: bool,
    plain: bool,
    log_place: str | None,
    open_browser: bool,
    as_json: bool,
) -> int:
    """Opens the doors, says where, serves until it is stopped."""
    from trysquare.ground.errors import ReadingError

    if plain and not lan:
        raise click.UsageError("--plain goes with --lan.", click.get_current_context())
    if not Path(folder).is_dir():
        raise NotThere(f"{folder} is no folder. Name the folder of your machine.")
    try:
        _serve(folder, papers, port, lan=lan, plain=plain, log_place=log_place, as_json=as_json,
               open_browser=open_browser)  # fmt: skip
    except ReadingError as problem:
        return unreadable(problem, folder, as_json=as_json)
    return CLEAN


def _serve(
    folder: str,
    papers: Sequence[str],
    port: int | None,
    *,
    lan: bool,
    plain: bool,
    log_place: str | None,
    as_json: bool,
    open_browser: bool,
) -> None:
    from trysquare.bench.app import bench_app
    from trysquare.bench.lan import web_addresses
    from trysquare.bench.serving import Door, listen_at, serve

    doors = [Door(listening=listen_at("127.0.0.1", PORT if port is None else port, others=port is None))]
    here = web_addresses("http", ("127.0.0.1",), doors[0].port)[0]
    opening = opening_of(folder, doors, lan=lan, plain=plain)
    bench = made_bench(Path(folder), papers, opening, log_place)
    facts: dict[str, Any] = {
        "folder": folder,
        "here": here,
        "for_others": list(opening.addresses),
        "why_read_only": bench.desk.why_read_only,
    }

    def ready() -> None:
        if as_json:
            print_json(facts)
        else:
            _tell(facts)
        if open_browser:
            webbrowser.open(here)

    serve(bench_app(bench), doors, ready=ready, stops=bench.changes.close)


def opening_of(folder: str, doors: list[Door], *, lan: bool, plain: bool) -> Opening:
    """How the bench is reached; opens a second door for the network, where it is wanted."""
    from trysquare.bench.bench import Opening
    from trysquare.bench.certificate import certificates
    from trysquare.bench.lan import own_addresses, own_names, web_addresses
    from trysquare.bench.serving import Door, listen_at
    from trysquare.ground.errors import ReadingError

    local = frozenset({"localhost", "127.0.0.1", "::1"})
    if not lan:
        return Opening(hosts=local, how_to_open=HOW_TO_OPEN.format(folder=quoted(folder)))
    addresses, names = own_addresses(), own_names()
    if not addresses:
        raise NotThere("This computer has no address in a private network. Join one, or leave --lan out.")
    four = [each for each in addresses if ":" not in each] or list(addresses)
    listening = [listen_at("0.0.0.0", doors[0].port + 1, others=True)]
    port = int(listening[0].getsockname()[1])
    if any(":" in each for each in addresses):
        with contextlib.suppress(ReadingError):  # a system without the newer protocol, or the port is taken
            listening.append(listen_at("::", port, others=False))
    hosts = local | set(addresses) | set(names)
    if plain:
        doors += [Door(listening=each) for each in listening]
        return Opening(hosts=hosts, addresses=web_addresses("http", (*four, *names), port))
    made = certificates(state_home(), (*local, *addresses, *names))
    doors += [Door(listening=each, chain=made.chain, key=made.key) for each in listening]
    return Opening(
        hosts=hosts,
        addresses=web_addresses("https", (*four, *names), port),
        https=True,
        certificate=made.authority,
        fingerprint=made.fingerprint,
    )


def made_bench(folder: Path, papers: Sequence[str], opening: Opening, log_place: str | None = None) -> Any:
    """Everything but the doors, with what an earlier run has kept."""
    from trysquare.bench.bench import Bench
    from trysquare.bench.changes import Changes
    from trysquare.bench.desk import open_desk
    from trysquare.bench.devices import Devices
    from trysquare.bench.kept_answers import open_kept
    from trysquare.bench.routes import FURTHER
    from trysquare.bench.truing_child import TruingChild
    from trysquare.bench.tuning_tools import Asking
    from trysquare.bench.workshop import Work, Workshop
    from trysquare.cli.tune_forms import tools

    kept = open_kept(_places(folder))
    outside = [Path(paper) for paper in papers]
    stamp = cache.source_stamp()

    def digest() -> str:
        content = cache.folder_digest(folder, outside)
        return hashlib.sha256(f"{stamp} {content}".encode()).hexdigest()

    work = Work(
        digest=digest,
        watched=lambda: [*cache.watched_files(folder), *outside],
        command=lambda what, key: [
            sys.executable, "-m", "trysquare.cli.bench_work", what, str(folder), str(kept.folder), key,
            *papers,
        ],
    )  # fmt: skip
    changes = Changes()
    place: Path | str = folder
    if log_place is not None:
        place = log_place if "://" in log_place else Path(log_place)
    desk = open_desk(place, _machine_name(folder))
    workshop = Workshop(work, kept, lambda what: changes.tell(what, desk.state.seq))
    workshop.begin()
    name = hashlib.sha256(str(folder.resolve()).encode("utf-8", "surrogatepass")).hexdigest()[:24]
    return Bench(
        folder=folder,
        workshop=workshop,
        desk=desk,
        devices=Devices(state_home() / f"devices-{name}.json", time.time),
        changes=changes,
        opening=opening,
        further=FURTHER,
        asking=Asking(tools(str(folder), papers)),
        truing=TruingChild(
            lambda: [sys.executable, "-m", "trysquare.cli.true_work", str(folder), *papers],
        ),
    )


def state_home() -> Path:
    """The user's own folder for what lasts: certificates, and which devices have joined."""
    base = os.environ.get("XDG_STATE_HOME") or os.environ.get("LOCALAPPDATA") or ""
    return (Path(base) if base else Path.home() / ".local" / "state") / "trysquare" / "bench"


def _places(folder: Path) -> list[Path]:
    """Beside the machine; else in the user's own cache, one folder for each machine."""
    base = os.environ.get("XDG_CACHE_HOME") or os.environ.get("LOCALAPPDATA") or ""
    home = (Path(base) if base else Path.home() / ".cache") / "trysquare"
    name = hashlib.sha256(str(folder.resolve()).encode("utf-8", "surrogatepass")).hexdigest()[:24]
    return [folder / cache.FOLDER_NAME, home / name]


def _machine_name(folder: Path) -> str:
    """The machine's name as the log is begun with; the folder's where it cannot be read yet."""
    try:
        name = tomllib.loads((folder / "machine.toml").read_text(encoding="utf-8")).get("name")
    except (OSError, ValueError):
        name = None
    return name if isinstance(name, str) and name else folder.resolve().name


def _tell(facts: dict[str, Any]) -> None:
    talk(f"The bench of {facts['folder']} is open at {facts['here']} Stop it with Ctrl+C.")
    if facts["for_others"]:
        talk(f"Phones and tablets: {facts['for_others'][0]} The code is on its page Devices.")
    if facts["why_read_only"]:
        talk(f"Nothing can be kept: {facts['why_read_only']}.")
