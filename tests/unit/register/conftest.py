"""A register on SQLite, and on a PostgreSQL server started for these tests where its programs are installed."""

from __future__ import annotations

import os
import pwd
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.unit.register.tools import ANCHOR, FILE, LIGHT, Desk, make_desk
from travel.register import Register

PROGRAMS = sorted(Path("/usr/lib/postgresql").glob("*/bin"), key=lambda path: float(path.parent.name))


def _owner() -> str | None:
    """Give who may run the server: it refuses to run as root."""
    if os.geteuid() != 0:
        return None
    known = {row.pw_name for row in pwd.getpwall()}
    return "postgres" if "postgres" in known else "nobody"


@pytest.fixture(scope="session")
def server() -> Iterator[str]:
    """Start a PostgreSQL server that listens on a socket file only; give the folder of the socket."""
    if not PROGRAMS or not (PROGRAMS[-1] / "initdb").is_file():
        assert not os.environ.get("CI"), "PostgreSQL has to be installed in CI"
        pytest.skip("PostgreSQL is not installed")
    folder, owner = Path(tempfile.mkdtemp(prefix="register-")), _owner()
    if owner:
        shutil.chown(folder, owner)

    def program(name: str, *arguments: str) -> None:
        command = [str(PROGRAMS[-1] / name), *arguments]
        done = subprocess.run(command, user=owner, capture_output=True, text=True, cwd=folder, check=False)
        assert done.returncode == 0, done.stderr

    data = str(folder / "data")
    try:
        program("initdb", "-D", data, "-U", "postgres", "-A", "trust", "-E", "UTF8", "--locale=C", "--no-sync")
        options = f"-c listen_addresses='' -c unix_socket_directories='{folder}' -c fsync=off"
        program("pg_ctl", "-D", data, "-l", str(folder / "log"), "-w", "-o", options, "start")
        try:
            yield str(folder)
        finally:
            program("pg_ctl", "-D", data, "-m", "immediate", "-w", "stop")
    finally:
        shutil.rmtree(folder, ignore_errors=True)


@pytest.fixture
def folder() -> Iterator[Path]:
    """Give a folder in memory where there is one: a disk's own slowness is no part of these tests."""
    memory = Path("/dev/shm")
    made = Path(tempfile.mkdtemp(prefix="register-", dir=memory if os.access(memory, os.W_OK) else None))
    yield made
    shutil.rmtree(made, ignore_errors=True)


@pytest.fixture(scope="session")
def founded(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Make one register with its people, to be copied."""
    made = tmp_path_factory.mktemp("founded")
    make_desk(Register(str(made / FILE), made / ANCHOR, cost=LIGHT))
    return made


@pytest.fixture(scope="session")
def founded_database(server: str, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Make one database with a register and its people, to be copied; give its anchor file."""
    anchor = tmp_path_factory.mktemp("founded") / ANCHOR
    make_desk(Register(new_database(server, "founded", "template1"), anchor, cost=LIGHT))
    return anchor


def new_database(server: str, name: str, template: str) -> str:
    """Make a database; give where it is."""
    import psycopg

    with psycopg.connect(f"postgresql://postgres@/postgres?host={server}", autocommit=True) as connection:
        connection.execute(f'CREATE DATABASE "{name}" TEMPLATE "{template}"')
    return f"postgresql://postgres@/{name}?host={server}"


@pytest.fixture
def location(request: pytest.FixtureRequest, folder: Path) -> str:
    """Give where a register may be made: a file, or with the parameter ``postgresql`` a new database."""
    if getattr(request, "param", "sqlite") == "sqlite":
        return str(folder / FILE)
    template = "founded" if "desk" in request.fixturenames else "template1"
    if template == "founded":
        shutil.copyfile(request.getfixturevalue("founded_database"), folder / ANCHOR)
    return new_database(request.getfixturevalue("server"), f"t{folder.name.removeprefix('register-')}", template)


@pytest.fixture
def register(location: str, folder: Path) -> Register:
    """Give a register that is not made yet."""
    return Register(location, folder / ANCHOR, cost=LIGHT)


@pytest.fixture
def desk(register: Register, folder: Path, request: pytest.FixtureRequest) -> Desk:
    """Give a register with its people."""
    if register.database.file is not None:
        founded = request.getfixturevalue("founded")
        for name in (FILE, ANCHOR):
            shutil.copyfile(founded / name, folder / name)
    return Desk(register)
