"""Killed in the middle, a full disk, several at once: nothing decided is lost, nothing undecided looks decided.

``REGISTER_KILLS`` says how often the series is killed on each database; 8 and 4 times without it.
"""

from __future__ import annotations

import errno
import os
import random
import shutil
import subprocess
import time
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import Connection

from tests.unit.register import deciding
from tests.unit.register.conftest import new_database
from tests.unit.register.tools import ANCHOR, BOTH, FILE, LIGHT, PASSWORDS, SPOTTER, START, Desk, subject
from travel.errors import InputError
from travel.register import Register
from travel.register.database import Database

KILLS = {kind: int(os.environ.get("REGISTER_KILLS", few)) for kind, few in (("sqlite", "8"), ("postgresql", "4"))}
HOUR = deciding.HOUR


def told(path: Path) -> list[str]:
    return path.read_text(encoding="utf-8").splitlines() if path.is_file() else []


def whole(register: Register, lines: list[str]) -> int:
    """See that a register holds exactly what was acknowledged, and at most what was under way; give how many."""
    answered = [line.split()[1] for line in lines if line.startswith("done ")]
    acknowledged = [known for known in answered if known != "-"]
    try:
        _, rows = register.export()
    except InputError:
        if acknowledged:
            raise
        register.create("Ruth", ("supervisor",), PASSWORDS["Ruth"], START)  # it can be founded again
        assert register.verify() == ()
        return 0
    assert register.verify() == ()
    kept = [row.hash for row in rows]
    assert [known for known in acknowledged if known not in kept] == [], "acknowledged and lost"
    silent = answered.count("-")  # writes that give no hash
    assert len(kept) <= len(acknowledged) + silent + 1, "more is decided than was asked for"
    later = Desk(register, START + 20 * HOUR)
    later.register.decide(later.intent("clock", "Ruth", note="after the fault"), PASSWORDS["Ruth"])
    assert register.verify() == ()
    return len(kept)


def killed(location: str, folder: Path, write: int, after_s: float) -> list[str]:
    """Run the series and kill it with signal 9 so long after a write of that number began; give what it had told."""
    lines = folder / "told"
    arguments = (location, str(folder / ANCHOR), str(lines))
    process = deciding.CONTEXT.Process(target=deciding.decide_all, args=arguments)
    process.start()
    while sum(line.startswith("begin") for line in told(lines)) <= write and process.is_alive():
        time.sleep(0.0002)
    time.sleep(after_s)
    process.kill()
    process.join()
    return told(lines)


@pytest.mark.parametrize("kind", ["sqlite", "postgresql"])
def test_killed_at_any_moment(kind: str, request: pytest.FixtureRequest, folder: Path, record_property: Any) -> None:
    server = request.getfixturevalue("server") if kind == "postgresql" else ""
    chance, under_way = random.Random(f"2026-11-25 {kind}"), Counter[str]()
    lasts_s: list[float] = []
    kills = KILLS[kind]
    for number in range(-1, kills):
        own = folder / str(number + 1)
        own.mkdir()
        name = f"k{folder.name.removeprefix('register-')}_{number + 1}"
        location = new_database(server, name, "template1") if server else str(own / FILE)
        if number < 0:  # the first runs to its end and gives how long each write takes
            lines = finished(location, own)
            assert lines[-1] == "over", lines
            lasts_s = [float(line.split()[2]) for line in lines if line.startswith("done ")]
        else:
            write = number % len(lasts_s) if len(lasts_s) <= kills else chance.randrange(len(lasts_s))
            lines = killed(location, own, write, chance.random() * lasts_s[write])
            under_way[moment(lines)] += 1
        whole(Register(location, own / ANCHOR, cost=LIGHT), lines)
        shutil.rmtree(own)
    record_property("under way when killed", dict(under_way))
    print(kind, f"{sum(lasts_s):.2f} s", dict(under_way))
    assert under_way.total() == kills
    assert kills - under_way["between two"] > kills / 2, "hardly any write was under way"


def moment(lines: list[str]) -> str:
    """Give what was under way after these lines."""
    word, _, name = lines[-1].partition(" ")
    return name if word == "begin" else "between two"


def finished(location: str, folder: Path, limit_bytes: int = 0) -> list[str]:
    """Run the series to its end; give what it told."""
    lines = folder / "told"
    arguments = (location, str(folder / ANCHOR), str(lines), limit_bytes)
    process = deciding.CONTEXT.Process(target=deciding.decide_all, args=arguments)
    process.start()
    process.join(120)
    assert process.exitcode == 0
    return told(lines)


# -- a full disk


@pytest.mark.parametrize("limit_kib", [0.1, 8, 20, 33, 41, 50, 60, 70, 80])
def test_no_file_may_grow_beyond_a_limit(folder: Path, limit_kib: float) -> None:
    lines = finished(str(folder / FILE), folder, int(limit_kib * 1024))
    assert lines[-1].startswith("failed "), lines
    assert "nothing was recorded" in lines[-1] or "cannot be written" in lines[-1]
    whole(Register(str(folder / FILE), folder / ANCHOR, cost=LIGHT), lines)


@pytest.fixture
def small_disk(request: pytest.FixtureRequest, folder: Path) -> Iterator[Path]:
    """Give a file system of so many KiB."""
    disk = folder / "disk"
    disk.mkdir()
    command = ["mount", "-t", "tmpfs", "-o", f"size={request.param}k", "none", str(disk)]
    if os.geteuid() != 0 or subprocess.run(command, capture_output=True, check=False).returncode != 0:
        pytest.skip("no file system can be mounted here; the limit on files stands for it")
    yield disk
    subprocess.run(["umount", str(disk)], check=False)


@pytest.mark.parametrize("small_disk", [16, 64, 100, 120, 140, 160], indirect=True)
def test_a_full_disk(small_disk: Path, folder: Path) -> None:
    process = deciding.CONTEXT.Process(
        target=deciding.decide_all, args=(str(small_disk / FILE), str(small_disk / ANCHOR), str(folder / "told"))
    )
    process.start()
    process.join(60)
    assert process.exitcode == 0
    lines = told(folder / "told")
    assert lines[-1].startswith("failed "), lines
    assert "the disk" in lines[-1] or "cannot be written" in lines[-1] or "No space left" in lines[-1]
    larger = folder / "larger"
    shutil.copytree(small_disk, larger)
    whole(Register(str(larger / FILE), larger / ANCHOR, cost=LIGHT), lines)


def test_a_decision_stands_though_the_anchor_cannot_be_written(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_: Any) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr("travel.register.register.write_anchor", full)
    about = subject()
    recorded = desk.register.decide(desk.intent("submit", "Hanne", about, subject=about), PASSWORDS["Hanne"], b"plan")
    assert recorded.doubts == (
        "the decision is recorded, but anchor.json could not be written: No space left on device",
    )
    monkeypatch.undo()
    assert desk.state(about) == "submitted"
    assert desk.register.verify() == ()


def test_a_register_that_can_only_be_read_is_told(desk: Desk, folder: Path) -> None:
    desk.go()
    copy = folder / "shown"
    shutil.copytree(folder, copy, ignore=shutil.ignore_patterns("shown"))
    answers = deciding.CONTEXT.Queue()
    for path in (copy / FILE, copy / ANCHOR, copy):
        path.chmod(0o555 if path.is_dir() else 0o444)
    folder.chmod(0o755)
    process = deciding.CONTEXT.Process(target=deciding.look_over, args=(str(copy / FILE), str(copy / ANCHOR), answers))
    process.start()
    found = answers.get(timeout=30)
    process.join()
    copy.chmod(0o755)
    assert str(found).endswith("this file can only be read, so nothing was recorded; to look it over, copy it")


# -- several at once


def together(desk: Desk, folder: Path, tries: list[tuple[str, str, Any, dict[str, Any]]]) -> list[tuple[str, Any]]:
    """Let several people decide at the same moment, each in a process of his own; give what came of each."""
    barrier, answers = deciding.CONTEXT.Barrier(len(tries)), deciding.CONTEXT.Queue()
    where = (desk.register.database.url.render_as_string(hide_password=False), str(folder / ANCHOR))
    where = (str(desk.register.database.file), where[1]) if desk.register.database.file else where
    processes = [
        deciding.CONTEXT.Process(
            target=deciding.try_one, args=(*where, desk.now, barrier, answers, kind, by, about, more)
        )
        for kind, by, about, more in tries
    ]
    for process in processes:
        process.start()
    found = [answers.get(timeout=60) for _ in processes]
    for process in processes:
        process.join()
    return found


@BOTH
def test_two_supervisors_release_one_plan_at_the_same_moment(desk: Desk, folder: Path) -> None:
    for number in range(4):
        about = desk.submit(f"plan {number}".encode(), roads=(f"R{number}",))
        words = {"until": START + 8 * HOUR, "conditions": (SPOTTER,)}
        found = together(desk, folder, [("release", "Ruth", about, words), ("release", "Tomas", about, words)])
        assert sorted(kind for kind, _ in found) == ["Refused", "done"]
        assert "to release it it has to be submitted or suspended" in next(
            text for kind, text in found if kind != "done"
        )
        desk.now += HOUR / 10
        assert [d.intent.kind for d in desk.standing(about).decisions] == ["submit", "release"]
    assert desk.register.verify() == ()


@BOTH
def test_one_releases_while_another_refuses(desk: Desk, folder: Path) -> None:
    about = desk.submit()
    words = {"until": START + 8 * HOUR, "conditions": (SPOTTER,)}
    tries = [("release", "Ruth", about, words), ("refuse", "Tomas", about, {"note": "no spotter"})]
    found = together(desk, folder, tries)
    assert sorted(kind for kind, _ in found) == ["Refused", "done"]
    desk.now += HOUR / 10
    assert desk.state(about) in ("released with conditions", "refused")
    assert desk.register.verify() == ()


@BOTH
def test_two_plans_on_one_lane_are_not_both_released_at_the_same_moment(desk: Desk, folder: Path) -> None:
    first, second = desk.submit(b"first"), desk.submit(b"second")
    words = {"until": START + 8 * HOUR, "conditions": (SPOTTER,)}
    found = together(desk, folder, [("release", "Ruth", first, words), ("release", "Tomas", second, words)])
    assert sorted(kind for kind, _ in found) == ["Refused", "done"]
    assert "is released on the same lane" in next(text for kind, text in found if kind != "done")
    assert desk.register.verify() == ()


@BOTH
def test_a_decision_made_while_somebody_looks_is_no_theft(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    about, seen = desk.submit(), Database._insist_current

    def somebody_decides(database: Database, connection: Connection) -> None:
        seen(database, connection)
        monkeypatch.undo()  # the rows of this moment are what is read; now another decides, and the anchor moves on
        desk.decide("refuse", "Ruth", about, note="no spotter")

    for look, nothing_wrong in ((desk.register.people, dict), (desk.register.verify, ().__eq__)):
        monkeypatch.setattr(Database, "_insist_current", somebody_decides)
        assert nothing_wrong(look())
        assert Database._insist_current is seen, "nobody decided"
        desk.decide("submit", "Hanne", about, b"plan", subject=about)
    assert desk.register.verify() == ()


@BOTH
def test_four_people_submit_at_once_and_everything_is_kept_in_one_chain(desk: Desk, folder: Path) -> None:
    barrier, answers = deciding.CONTEXT.Barrier(4), deciding.CONTEXT.Queue()
    file = desk.register.database.file
    where = str(file) if file else desk.register.database.url.render_as_string(hide_password=False)
    arguments = [(where, str(folder / ANCHOR), barrier, answers, who, 5) for who in range(4)]
    processes = [deciding.CONTEXT.Process(target=deciding.submit_some, args=each) for each in arguments]
    for process in processes:
        process.start()
    assert [answers.get(timeout=120) for _ in processes] == [("done", 5)] * 4
    for process in processes:
        process.join()
    identity, rows = desk.register.export()
    assert len(rows) == 25
    assert f'"count": {len(rows)}' in (folder / ANCHOR).read_text("utf-8"), "the anchor lags behind"
    assert desk.register.verify(rows[-1].hash) == ()
    assert identity


def test_somebody_who_waits_too_long_is_told(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("travel.register.database.WAIT_S", 0.2)
    about = subject()
    intent = desk.intent("submit", "Hanne", about, subject=about)
    other = Register(str(desk.register.database.file), desk.register.anchor, cost=LIGHT)
    with (
        other.database.writing(),
        pytest.raises(InputError, match="somebody else is deciding right now; try again"),
    ):
        desk.register.decide(intent, PASSWORDS["Hanne"], b"plan")
    assert desk.state(about) == "draft"
    desk.register.decide(intent, PASSWORDS["Hanne"], b"plan")
    assert desk.state(about) == "submitted"
