"""Nothing that was acknowledged is lost: killed at any moment, written by two at once, on a full disk, in a folder that may not be written to."""

from __future__ import annotations

import os
import random
import signal
import sqlite3
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest

from underglass.errors import NotebookError
from underglass.notebook.records import Note
from underglass.notebook.store import Notebook, open_notebook

NOON = datetime(2027, 3, 10, 12, tzinfo=UTC)

WRITER = """
import sys
from datetime import UTC, datetime
from pathlib import Path
from underglass.errors import NotebookError
from underglass.notebook.records import Note
from underglass.notebook.store import open_notebook

path, who, most = Path(sys.argv[1]), sys.argv[2], int(sys.argv[3])
size = int(sys.argv[4]) if len(sys.argv) > 4 else 20
try:
    with open_notebook(path, create=True) as book:
        print("open", flush=True)
        for n in range(most):
            with book.transaction("a pair of notes"):
                for half in "ab":
                    book.add(Note(at=datetime.now(UTC), text=f"{who}-{n}-{half} " + "x" * size))
            print(f"{who}-{n}", flush=True)
except NotebookError as error:
    print(error, file=sys.stderr)
    raise SystemExit(error.exit_code)
"""


def writer(path: Path, who: str, most: int, *more: str) -> subprocess.Popen[str]:
    """A process that writes pairs of notes and says each on its output once it is kept."""
    return subprocess.Popen(
        [sys.executable, "-c", WRITER, str(path), who, str(most), *more],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )


def kept(book: Notebook) -> dict[str, int]:
    """How many halves of each pair are there."""
    found: dict[str, int] = {}
    for note in book.find(Note):
        pair = note.text.split(" ")[0].rsplit("-", 1)[0]
        found[pair] = found.get(pair, 0) + 1
    return found


def is_whole(path: Path) -> bool:
    with sqlite3.connect(path) as db:
        verdict = db.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        verdict &= db.execute("PRAGMA foreign_key_check").fetchone() is None
    db.close()
    return verdict


def test_killed_at_any_moment_nothing_acknowledged_is_lost(tmp_path: Path) -> None:
    """kill -9 in a loop, also while the file is made and opened; every pair that was said is there, and no half of one."""
    path, acknowledged, chance = tmp_path / "notebook.sqlite", set[str](), random.Random(1)
    for round_ in range(25):
        process = writer(path, f"r{round_}", 10**6)
        assert process.stdout
        if round_ % 3:  # twice in three while it writes, else at any moment from its start on
            assert process.stdout.readline() == "open\n"
        timer = threading.Timer(chance.uniform(0.0, 0.3), process.send_signal, [signal.SIGKILL])
        timer.start()
        said = process.communicate(timeout=60)[0].splitlines(keepends=True)
        timer.join()
        assert process.returncode == -signal.SIGKILL
        acknowledged |= {line.strip() for line in said if line.endswith("\n") and line.strip() != "open"}
    with open_notebook(path) as book:
        found = kept(book)
    assert acknowledged, "the rounds were too short to write anything"
    assert acknowledged <= set(found)
    assert set(found.values()) == {2}
    assert is_whole(path)


def test_two_at_once(tmp_path: Path) -> None:
    """Three processes make, open and write the same notebook at the same time."""
    path = tmp_path / "notebook.sqlite"
    crowd = [writer(path, who, 60) for who in ("p", "q", "r")]
    for process in crowd:
        _, err = process.communicate(timeout=120)
        assert (process.returncode, err) == (0, "")
    with open_notebook(path) as book:
        assert kept(book) == {f"{who}-{n}": 2 for who in ("p", "q", "r") for n in range(60)}
    assert is_whole(path)


def test_another_program_that_never_lets_go_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("underglass.notebook.store.BUSY_S", 0.1)
    path = tmp_path / "notebook.sqlite"
    with open_notebook(path, create=True) as one, open_notebook(path) as two, one.transaction("long"):
        one.add(Note(at=NOON, text="one"))
        with pytest.raises(NotebookError, match="another program has been writing"), two.transaction("short"):
            two.add(Note(at=NOON, text="two"))
        assert two.find(Note) == [], "reading goes on meanwhile"


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A disk of one megabyte; where none can be mounted, a bound on the size of files, which stops a write in the same place."""
    disk = tmp_path / "disk"
    disk.mkdir()
    mounted = os.name == "posix" and os.geteuid() == 0
    mounted = (
        mounted
        and subprocess.run(
            ["mount", "-t", "tmpfs", "-o", "size=1m", "tmpfs", disk], check=False, capture_output=True
        ).returncode
        == 0
    )
    if not mounted:
        pytest.skip("no disk can be mounted here; the bound on files is tried in the next test")
    try:
        yield disk
    finally:
        subprocess.run(["umount", disk], check=False)


def test_a_full_disk_loses_nothing(small_disk: Path) -> None:
    path = small_disk / "notebook.sqlite"
    process = writer(path, "f", 10**6, "2000")
    said, err = process.communicate(timeout=120)
    assert process.returncode == NotebookError.exit_code
    assert "disk is full" in err
    assert len(err.splitlines()) == 1
    acknowledged = {line for line in said.splitlines() if line != "open"}
    assert len(acknowledged) > 5
    with open_notebook(path) as book:
        assert acknowledged <= set(kept(book))
        assert set(kept(book).values()) == {2}


def test_a_bound_on_files_loses_nothing(tmp_path: Path) -> None:
    """The same by a limit on file sizes (POSIX RLIMIT_FSIZE), for machines where nothing can be mounted."""
    resource = pytest.importorskip("resource")
    path = tmp_path / "notebook.sqlite"
    done = subprocess.run(
        [
            sys.executable,
            "-c",
            "import signal; signal.signal(signal.SIGXFSZ, signal.SIG_IGN)\n" + WRITER,
            str(path),
            "f",
            "1000000",
            "2000",
        ],
        capture_output=True,
        text=True,
        check=False,
        timeout=120,
        preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (700_000, 700_000)),
    )
    assert done.returncode == NotebookError.exit_code
    assert "all earlier entries are safe" in done.stderr
    assert len(done.stderr.splitlines()) == 1
    acknowledged = {line for line in done.stdout.splitlines() if line != "open"}
    assert len(acknowledged) > 5
    with open_notebook(path) as book:
        assert acknowledged <= set(kept(book))
        assert set(kept(book).values()) == {2}


@pytest.fixture
def read_only(tmp_path: Path) -> Iterator[Path]:
    """A folder with a notebook in it that may not be written to, also not by root, who may write to every folder but not to such a disk."""
    folder = tmp_path / "shelf"
    folder.mkdir()
    root = os.name == "posix" and os.geteuid() == 0
    if root and subprocess.run(["mount", "-t", "tmpfs", "tmpfs", folder], check=False, capture_output=True).returncode:
        pytest.skip("root may write everywhere, and no read-only disk can be mounted here")
    try:
        with open_notebook(folder / "notebook.sqlite", create=True) as book, book.transaction("a note"):
            book.add(Note(at=NOON, text="safe"))
        if root:
            subprocess.run(["mount", "-o", "remount,ro", folder], check=True)
        else:
            folder.chmod(0o500)
            (folder / "notebook.sqlite").chmod(0o400)
        yield folder
    finally:
        if root:
            subprocess.run(["umount", folder], check=False)
        else:
            folder.chmod(0o700)


def test_a_read_only_folder_can_be_read_and_says_so_when_written(read_only: Path) -> None:
    with open_notebook(read_only / "notebook.sqlite") as book:
        assert [n.text for n in book.find(Note)] == ["safe"]
        with pytest.raises(NotebookError, match="may not be written to"), book.transaction("more"):
            book.add(Note(at=NOON, text="more"))
    with pytest.raises(NotebookError, match="there is no notebook yet"):
        open_notebook(read_only / "other.sqlite")
    with pytest.raises(NotebookError):
        open_notebook(read_only / "deeper" / "other.sqlite", create=True)


def test_the_backup_may_fail_but_the_entry_does_not(tmp_path: Path) -> None:
    now = [NOON]
    with open_notebook(tmp_path / "notebook.sqlite", create=True, clock=lambda: now[0]) as book:
        with book.transaction("one"):
            book.add(Note(at=NOON, text="one"))
        (tmp_path / "backups").write_text("a file where the folder should be")
        now[0] = datetime(2027, 3, 11, tzinfo=UTC)
        with book.transaction("two"):
            book.add(Note(at=NOON, text="two"))
        assert [n.text for n in book.find(Note)] == ["one", "two"]
        assert "today's backup could not be made" in book.backup_fault


def test_an_entry_is_quick(tmp_path: Path) -> None:
    """Opening, writing and closing is far below what a person notices; the bound is loose, as machines are shared."""
    path = tmp_path / "notebook.sqlite"
    open_notebook(path, create=True).close()
    times = []
    for n in range(20):
        began = time.perf_counter()
        with open_notebook(path) as book, book.transaction("a note"):
            book.add(Note(at=NOON, text=f"{n}"))
        times.append(time.perf_counter() - began)
    assert sorted(times)[10] < 0.25
