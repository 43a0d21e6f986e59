"""Databases for the tests of the store: an SQLite file, and a real PostgreSQL where installed.

The server is started for the tests alone, on a socket in a folder of its own, and is stopped
after them. Where PostgreSQL or its driver is not installed, those tests are skipped.
"""

from __future__ import annotations

import getpass
import os
import shutil
import signal
import subprocess
import tempfile
import time
from collections.abc import Iterator
from itertools import count
from pathlib import Path

import pytest
from logbook_file_trial import fill

from glowtrace.cli import run
from glowtrace.store import open_store

_NUMBERS = count(1)


def server_program(name: str) -> str | None:
    """Find a program of the server; Debian keeps them away from the path."""
    debian = sorted(Path("/usr/lib/postgresql").glob(f"*/bin/{name}"))
    return shutil.which(name) or (str(debian[-1]) if debian else None)


def server_user() -> str | None:
    """Give the user to run the server as: it refuses to run as root."""
    pwd = pytest.importorskip("pwd", reason="the server is started on Unix only")
    if os.geteuid() != 0:
        return getpass.getuser()
    return "postgres" if "postgres" in {one.pw_name for one in pwd.getpwall()} else None


@pytest.fixture(scope="session")
def postgres_url() -> Iterator[str]:
    """Start a PostgreSQL server; the URL lacks the name of a database."""
    pytest.importorskip("psycopg", reason="the driver psycopg is not installed")
    initdb, postgres, user = server_program("initdb"), server_program("postgres"), server_user()
    if initdb is None or postgres is None or user is None:
        pytest.skip("PostgreSQL is not installed (Debian: apt install postgresql)")
    # A short path that the server's user may enter: a socket's path has 107 characters at most.
    with tempfile.TemporaryDirectory(prefix="glowtrace-pg-", dir="/tmp") as folder:
        shutil.chown(folder, user)
        data = f"{folder}/data"
        subprocess.run(
            [initdb, "-D", data, "-A", "trust", "-U", "glowtrace", "-E", "UTF8", "--locale=C"],
            user=user if os.geteuid() == 0 else None,
            cwd=folder,
            check=True,
            capture_output=True,
        )
        server = subprocess.Popen(
            [postgres, "-D", data, "-k", folder, "-c", "listen_addresses="],
            user=user if os.geteuid() == 0 else None,
            cwd=folder,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        try:
            wait_for(server, Path(folder, ".s.PGSQL.5432"))
            yield f"postgresql+psycopg://glowtrace@/{{}}?host={folder}"
        finally:
            server.send_signal(signal.SIGINT)  # a fast shutdown
            server.wait(timeout=30)


def wait_for(server: subprocess.Popen[bytes], socket: Path) -> None:
    import psycopg

    deadline = time.monotonic() + 60
    while server.poll() is None and time.monotonic() < deadline:
        try:
            if socket.exists():
                psycopg.connect(f"host={socket.parent} user=glowtrace dbname=postgres").close()
                return
        except psycopg.OperationalError:
            pass  # still starting
        time.sleep(0.05)
    raise RuntimeError("the PostgreSQL server did not start")


@pytest.fixture
def postgres_address(postgres_url) -> Iterator[str]:
    """Make an empty database on the server."""
    import psycopg

    host = postgres_url.partition("host=")[2]
    name = f"trial_{next(_NUMBERS)}"
    with psycopg.connect(
        f"host={host} user=glowtrace dbname=postgres", autocommit=True
    ) as connection:
        connection.execute(f"CREATE DATABASE {name}")
        yield postgres_url.format(name)
        connection.execute(f"DROP DATABASE {name} WITH (FORCE)")


@pytest.fixture
def file(tmp_path) -> Path:
    return tmp_path / "glowtrace.sqlite"


@pytest.fixture
def read_only_folder():
    with tempfile.TemporaryDirectory() as folder:  # tmp_path lies in a folder closed to others
        yield Path(folder)
        Path(folder).chmod(0o700)


@pytest.fixture(params=["sqlite", "postgresql"])
def address(request) -> Path | str:
    """Give the address of an empty database of each kind."""
    if request.param == "sqlite":
        return request.getfixturevalue("file")
    return request.getfixturevalue("postgres_address")


@pytest.fixture
def store(address):
    with open_store(address) as opened:
        yield opened


@pytest.fixture
def full(tmp_path):
    """Give a logbook with every kind of thing in it."""
    with open_store(tmp_path / "full.sqlite") as store:
        fill(store.logbook)
        yield store.logbook


@pytest.fixture
def exported(full, tmp_path):
    """Give the file of that logbook."""
    path = tmp_path / "logbook.zip"
    full.export_to(path)
    return path


@pytest.fixture
def logbook(store):
    return store.logbook


@pytest.fixture
def glowtrace(capsys):
    """Run a command; give exit code, stdout and stderr."""

    def command(*arguments: object) -> tuple[int, str, str]:
        code = run([str(one) for one in arguments])
        out, err = capsys.readouterr()
        assert "Traceback" not in err
        return code, out, err

    return command
