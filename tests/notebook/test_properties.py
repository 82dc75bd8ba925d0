"""What holds whatever was written: undo restores the state, redo brings it back, and an archive is the notebook."""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from underglass.notebook.archive import export_archive, import_archive
from underglass.notebook.columns import KINDS, columns_of
from underglass.notebook.journal import changes, redo, undo
from underglass.notebook.photos import keep_picture, picture_path
from underglass.notebook.records import HarvestRecord, Note, Photo, Reading, ShelterRecord, Sowing, VisitException
from underglass.notebook.store import Notebook, open_notebook

NOON = datetime(2027, 3, 10, 12, tzinfo=UTC)
TEXTS = st.text(st.characters(blacklist_categories=("Cs",), blacklist_characters="\0"), max_size=30)
NUMBERS = st.floats(allow_nan=False, allow_infinity=False)
TIMES = st.datetimes(timezones=st.just(UTC))
STEPS = st.lists(
    st.tuples(
        st.sampled_from(["note", "shelter", "sowing", "reading", "harvest", "visits", "change", "remove", "both"]),
        st.integers(0, 1000),
        TEXTS,
        NUMBERS,
    ),
    max_size=12,
)
WIDE = settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])


@contextmanager
def a_notebook() -> Iterator[Notebook]:
    with (
        tempfile.TemporaryDirectory() as folder,
        open_notebook(Path(folder) / "notebook.sqlite", create=True, clock=lambda: NOON) as book,
    ):
        book.db.execute("PRAGMA synchronous = OFF")  # speed; what a lost machine may lose is another test's question
        yield book


def rows(book: Notebook, *, versions: bool) -> dict[str, list[dict[str, Any]]]:
    """All rows of all tables by id; without their versions, which only grow."""
    state = {}
    for table, kind in KINDS.items():
        found = book.db.execute(f'SELECT * FROM "{table}" ORDER BY id')
        names = [c[0] for c in found.description]
        assert set(names) == set(columns_of(kind))
        state[table] = [dict(zip(names, r, strict=True)) for r in found]
        if not versions:
            state[table] = [{**r, "version": 0} for r in state[table]]
    return state


def take(book: Notebook, step: str, pick: int, text: str, number: float) -> None:
    """One change, chosen by chance among those that are possible now."""
    notes, shelters, sowings = book.find(Note), book.find(ShelterRecord), book.find(Sowing)
    home = shelters[pick % len(shelters)].id if shelters else None
    todo: dict[str, Callable[[], object]] = {
        "note": lambda: book.add(Note(at=NOON, text=text, tags=(text, "ü"), shelter_id=home)),
        "shelter": lambda: book.add(ShelterRecord(name=f"{len(shelters)} {text}", toml=text)),
        "reading": lambda: book.add(Reading(at=NOON, value_k=number, shelter_id=home, in_sun=bool(pick % 2))),
    }
    if not book.find(VisitException, '"on" = ?', date(2027, 1 + pick % 12, 1 + pick % 28)):
        todo["visits"] = lambda: book.add(
            VisitException(on=date(2027, 1 + pick % 12, 1 + pick % 28), hours=(number,) * (pick % 3))
        )
    if home:
        todo["sowing"] = lambda: book.add(
            Sowing(crop_id=text, sown_on=NOON.date(), grown_in_id=home, stands_in_id=home)
        )
    if sowings:
        todo["harvest"] = lambda: book.add(
            HarvestRecord(sowing_id=sowings[pick % len(sowings)].id, on=NOON.date(), mass_kg=number)
        )
    if notes:
        todo["change"] = lambda: book.update(replace(notes[pick % len(notes)], text=text))
        todo["remove"] = lambda: book.remove(notes[pick % len(notes)])
        todo["both"] = lambda: (
            book.update(replace(notes[pick % len(notes)], text=text + "!")),
            book.add(Note(at=NOON, text=text)),
        )
    with book.transaction(step):
        todo.get(step, todo["note"])()


@WIDE
@given(STEPS)
def test_undoing_everything_restores_each_state_and_redoing_brings_it_back(
    steps: list[tuple[str, int, str, float]],
) -> None:
    with a_notebook() as book:
        states = [rows(book, versions=False)]
        for step in steps:
            take(book, *step)
            states.append(rows(book, versions=False))
        for state in reversed(states[:-1]):
            with book.transaction("undo"):
                undo(book)
            assert rows(book, versions=False) == state
        for state in states[1:]:
            with book.transaction("redo"):
                redo(book)
            assert rows(book, versions=False) == state
        assert len(changes(book, 1000)) == 3 * len(steps), "nothing is taken out of the journal"


@WIDE
@given(STEPS, st.lists(st.booleans(), max_size=20))
def test_back_and_forth_is_like_a_stack(steps: list[tuple[str, int, str, float]], back: list[bool]) -> None:
    """Undo and redo in any order walk along the states, as in any editor."""
    with a_notebook() as book:
        states = [rows(book, versions=False)]
        for step in steps:
            take(book, *step)
            states.append(rows(book, versions=False))
        here = len(states) - 1
        for go_back in back:
            if (go_back and here == 0) or (not go_back and here == len(states) - 1):
                continue
            with book.transaction("walk"):
                undo(book) if go_back else redo(book)
            here += -1 if go_back else 1
            assert rows(book, versions=False) == states[here]


@WIDE
@given(STEPS)
def test_versions_only_grow(steps: list[tuple[str, int, str, float]]) -> None:
    """No (id, version) ever stands for two contents: an old reader can never overwrite what it has not seen."""
    with a_notebook() as book:
        seen: dict[tuple[str, object, object], dict[str, Any]] = {}
        for step in steps:
            take(book, *step)
            for back in (None, undo, redo):
                if back:
                    with book.transaction("walk"):
                        back(book)
                for table, found in rows(book, versions=True).items():
                    for row in found:
                        assert seen.setdefault((table, row["id"], row["version"]), row) == row


@WIDE
@given(STEPS)
def test_an_archive_is_the_notebook(steps: list[tuple[str, int, str, float]]) -> None:
    with a_notebook() as book:
        for step in steps:
            take(book, *step)
        with book.transaction("photo"):
            name = keep_picture(book.path, b"\xff\xd8\xff" + bytes(100))
            book.add(Photo(at=NOON, file=name, caption="the box"))
        archive = book.path.parent / "all.zip"
        export_archive(book, archive)
        there = book.path.parent / "there" / "notebook.sqlite"
        assert import_archive(archive, there, NOON) is None
        with open_notebook(there, clock=lambda: NOON) as copy:
            assert rows(copy, versions=True) == rows(book, versions=True)
            assert changes(copy, 1000) == changes(book, 1000)
            assert picture_path(there, name).read_bytes() == picture_path(book.path, name).read_bytes()
            with copy.transaction("undo"):
                undo(copy)
            assert copy.find(Photo) == []
            again = book.path.parent / "again.zip"
            with copy.transaction("redo"):
                redo(copy)
            export_archive(copy, again)
        assert again.stat().st_size > 0


@given(st.lists(st.tuples(TIMES, TEXTS, st.lists(TEXTS, max_size=3)), max_size=5))
@WIDE
def test_any_words_and_times_come_back(given_notes: list[tuple[datetime, str, list[str]]]) -> None:
    with a_notebook() as book:
        with book.transaction("notes"):
            kept = [book.add(Note(at=at, text=text, tags=tuple(tags))) for at, text, tags in given_notes]
        assert [(n.at, n.text, list(n.tags)) for n in kept] == given_notes
        assert book.find(Note) == kept
