"""Places for logbooks under test: a file, and a database of a real PostgreSQL server started on loopback."""

from __future__ import annotations

import atexit
import os
import shutil
import socket
import subprocess
import tempfile
import uuid
from collections.abc import Iterator
from functools import lru_cache
from pathlib import Path

import pytest

from tests.lacking import lacking


def _binaries() -> Path | None:
    found = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"))
    if found:
        return found[-1].parent
    on_path = shutil.which("initdb")
    return Path(on_path).resolve().parent if on_path else None


def _user() -> str | None:
    """PostgreSQL refuses to run as root; the package brings a user of its own."""
    return "postgres" if os.geteuid() == 0 else None


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@lru_cache(maxsize=1)
def server_url() -> str:
    """Start the server once for the whole run; it stops, and its data goes, when the run ends."""
    binaries = _binaries()
    if binaries is None:
        lacking("no PostgreSQL server is installed (Debian: apt-get install postgresql)")
    home = Path(tempfile.mkdtemp(prefix="logbook-postgresql-", dir="/tmp"))
    if _user():
        shutil.chown(home, _user())
    data, port = home / "data", _free_port()

    def run(*words: str | Path) -> None:
        subprocess.run(list(words), user=_user(), cwd=home, check=True, stdout=subprocess.DEVNULL)

    run(binaries / "initdb", "-D", data, "-U", "tester", "-A", "trust", "-E", "UTF8")
    # Clients are killed here, never the server's power: it need not wait for the disk.
    options = f"-c listen_addresses=127.0.0.1 -c port={port} -c unix_socket_directories={home} -c fsync=off"
    run(binaries / "pg_ctl", "-D", data, "-w", "-l", home / "server.log", "-o", options, "start")

    def stop() -> None:
        run(binaries / "pg_ctl", "-D", data, "-m", "immediate", "stop")
        shutil.rmtree(home, ignore_errors=True)

    atexit.register(stop)
    return f"postgresql://tester@127.0.0.1:{port}"


def new_database() -> str:
    """Make an empty database and return its address."""
    import psycopg

    name = f"logbook_{uuid.uuid4().hex[:12]}"
    with psycopg.connect(f"{server_url()}/postgres", autocommit=True) as connection:
        connection.execute(f'CREATE DATABASE "{name}"')
    return f"{server_url()}/{name}"


@pytest.fixture(name="quick_folder")
def a_quick_folder(tmp_path: Path) -> Iterator[Path]:
    """A folder in memory where there is one: what a process had written outlives its kill there as on a disk."""
    memory = Path("/dev/shm")
    if not os.access(memory, os.W_OK) or shutil.disk_usage(memory).free < 60_000_000:
        yield tmp_path
        return
    with tempfile.TemporaryDirectory(prefix="logbook-", dir=memory) as folder:
        yield Path(folder)


@pytest.fixture(name="place", params=["file", pytest.param("server", marks=pytest.mark.server)])
def a_place(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[str]:
    """The same test on either kind of database."""
    yield new_database() if request.param == "server" else str(tmp_path / "logbook.sqlite")
