"""The store: what is written is there, two hands never overwrite each other, and the schema is what the records say."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from dataclasses import replace
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path

import pytest

from underglass.errors import InputError, NotebookError
from underglass.notebook import tunings
from underglass.notebook.backup import backups, restore
from underglass.notebook.columns import KINDS, columns_of, may_be_none
from underglass.notebook.faults import Changed, Damaged
from underglass.notebook.journal import changes, redo, undo
from underglass.notebook.migrate import APPLICATION_ID, migrate, newest_schema
from underglass.notebook.records import Note, Reading, Setting, ShelterRecord, Sowing
from underglass.notebook.store import Notebook, open_notebook

NOON = datetime(2027, 3, 10, 12, tzinfo=UTC)


@pytest.fixture
def book(tmp_path: Path) -> Iterator[Notebook]:
    with open_notebook(tmp_path / "notebook.sqlite", create=True) as opened:
        yield opened


def a_shelter(book: Notebook, name: str = "south box") -> ShelterRecord:
    with book.transaction("a shelter"):
        return book.add(ShelterRecord(name=name, toml="x = 1"))


def test_every_table_has_the_fields_of_its_record(book: Notebook) -> None:
    for table, kind in KINDS.items():
        columns = [row[1] for row in book.db.execute(f'PRAGMA table_info("{table}")')]
        assert columns[:3] == ["id", "created", "version"], table
        assert sorted(columns) == sorted(columns_of(kind)), table


def test_none_is_allowed_where_the_record_allows_it(book: Notebook) -> None:
    """A nullable column and an optional field are the same thing: an empty cell of an archive has one meaning."""
    for table, kind in KINDS.items():
        for _, name, _, notnull, _, key in book.db.execute(f'PRAGMA table_info("{table}")'):
            assert may_be_none(kind, name) == (not notnull and not key), f"{table}.{name}"


def test_the_file_says_what_it_is(book: Notebook) -> None:
    assert book.db.execute("PRAGMA application_id").fetchone() == (APPLICATION_ID,)
    assert book.db.execute("PRAGMA journal_mode").fetchone() == ("wal",)
    assert book.db.execute("PRAGMA foreign_keys").fetchone() == (1,)


def test_a_record_comes_back_as_it_was(book: Notebook) -> None:
    box = a_shelter(book)
    away = timezone(timedelta(hours=-5))
    with book.transaction("a reading"):
        kept = book.add(
            Reading(at=datetime(2027, 3, 10, 7, 30, tzinfo=away), value_k=275.15, shelter_id=box.id, in_sun=False)
        )
    assert kept == book.get(Reading, kept.id)
    assert kept.at == datetime(2027, 3, 10, 12, 30, tzinfo=UTC)
    assert kept.version == 1
    assert kept.in_sun is False
    assert book.find(Reading, "at >= ? AND at < ?", NOON, NOON + timedelta(hours=1)) == [kept]


def test_nothing_is_written_outside_a_transaction(book: Notebook) -> None:
    with pytest.raises(RuntimeError, match="open a transaction"):
        book.add(Note(at=NOON, text="lost"))
    assert book.find(Note) == []


def test_an_error_takes_the_whole_transaction_back(book: Notebook) -> None:
    wrong = Note(at=datetime(2027, 3, 10), text="no time zone")
    with pytest.raises(InputError), book.transaction("two notes"):
        assert [book.add(note) for note in (Note(at=NOON, text="first"), wrong)]
    assert book.find(Note) == []
    assert changes(book) == []


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        (lambda: Reading(at=NOON, value_k=float("nan")), "value_k"),
        (lambda: Reading(at=NOON, value_k=280.0, probe="roof"), "expected one of air, soil, leaf, outside"),  # type: ignore[arg-type]
        (lambda: Note(at=NOON, text="\ud800"), "cannot be kept"),
        (lambda: Note(at=NOON, text="x", shelter_id="nowhere"), "not there"),
        (lambda: Sowing(crop_id="spinach", sown_on=NOON, grown_in_id="x", stands_in_id="x"), "expected date"),
    ],
)
def test_what_does_not_fit_is_refused_in_a_sentence(book: Notebook, wrong: object, words: str) -> None:
    with pytest.raises(InputError, match=words), book.transaction("wrong"):
        book.add(wrong())  # type: ignore[operator]
    assert changes(book) == []


def test_two_hands_on_one_record(book: Notebook) -> None:
    other = open_notebook(book.path)
    with book.transaction("a note"):
        mine = book.add(Note(at=NOON, text="lid shut"))
    theirs = other.get(Note, mine.id)
    with other.transaction("theirs"):
        other.update(replace(theirs, text="lid open"))
    with pytest.raises(Changed, match="changed meanwhile") as caught, book.transaction("mine"):
        book.update(replace(mine, text="lid off"))
    assert caught.value.mine.text == "lid off"  # type: ignore[attr-defined]
    assert caught.value.theirs.text == "lid open"  # type: ignore[union-attr]
    assert book.get(Note, mine.id).text == "lid open"
    assert book.get(Note, mine.id).version == 2


def test_an_undo_counts_as_a_change(book: Notebook) -> None:
    """Who read the second version does not overwrite what stands after it was undone and written anew."""
    with book.transaction("a note"):
        first = book.add(Note(at=NOON, text="one"))
    with book.transaction("changed"):
        second = book.update(replace(first, text="two"))
    with book.transaction("undo"):
        undo(book)
    with book.transaction("anew"):
        book.update(replace(book.get(Note, first.id), text="three"))
    with pytest.raises(Changed), book.transaction("late"):
        book.update(replace(second, text="late"))
    assert book.get(Note, first.id).text == "three"


def test_what_is_sent_twice_is_kept_once(book: Notebook) -> None:
    note = Note(id="0123456789abcdef", at=NOON, text="from the shed")
    for _ in range(2):
        with book.transaction("sent"):
            book.add(note)
    assert len(book.find(Note)) == 1
    assert len(changes(book)) == 1


def test_what_others_belong_to_is_not_removed(book: Notebook) -> None:
    box = a_shelter(book)
    with book.transaction("a note"):
        book.add(Note(at=NOON, text="in the box", shelter_id=box.id))
    with pytest.raises(InputError, match="belong to this one"), book.transaction("gone"):
        book.remove(box)
    assert book.get(ShelterRecord, box.id) == box


def test_two_shelters_need_two_names(book: Notebook) -> None:
    a_shelter(book)
    with pytest.raises(InputError, match="already an entry with this name"):
        a_shelter(book)


def test_undo_and_redo(book: Notebook) -> None:
    for text in ("one", "two"):
        with book.transaction(text):
            book.add(Note(at=NOON, text=text))
    for left in (["one"], []):
        with book.transaction("undo"):
            undo(book)
        assert [n.text for n in book.find(Note)] == left
    with pytest.raises(InputError, match="nothing to undo"), book.transaction("undo"):
        undo(book)
    for left in (["one"], ["one", "two"]):
        with book.transaction("redo"):
            redo(book)
        assert [n.text for n in book.find(Note)] == left
    with pytest.raises(InputError, match="nothing to redo"), book.transaction("redo"):
        redo(book)


def test_nothing_is_redone_over_something_new(book: Notebook) -> None:
    with book.transaction("one"):
        book.add(Note(at=NOON, text="one"))
    with book.transaction("undo"):
        undo(book)
    with book.transaction("two"):
        book.add(Note(at=NOON, text="two"))
    with pytest.raises(InputError, match="nothing to redo"), book.transaction("redo"):
        redo(book)
    assert [n.text for n in book.find(Note)] == ["two"]


def test_an_older_change_is_undone_by_its_number_unless_it_was_touched(book: Notebook) -> None:
    notes = []
    for text in ("one", "two"):
        with book.transaction(text):
            notes.append(book.add(Note(at=NOON, text=text)))
    first, second = (c.id for c in reversed(changes(book)))
    with book.transaction("undo"):
        assert undo(book, first).what == "one"
    assert [n.text for n in book.find(Note)] == ["two"]
    with book.transaction("changed"):
        book.update(replace(notes[1], text="three"))
    with pytest.raises(Changed), book.transaction("undo"):
        undo(book, second)
    assert [n.text for n in book.find(Note)] == ["three"]


def test_tuned_values_and_their_undo(book: Notebook) -> None:
    box = a_shelter(book)
    for leak in (0.002, 0.003):
        with book.transaction("tuned"):
            tunings.add(book, box.id, {"leak": leak}, {"leak": (0.001, 0.004)})
    assert tunings.active(book, box.id).parameters == {"leak": 0.003}  # type: ignore[union-attr]
    with book.transaction("undo tuning"):
        tunings.undo(book, box.id)
    assert tunings.active(book, box.id).parameters == {"leak": 0.002}  # type: ignore[union-attr]
    assert tunings.active(book, box.id).intervals == {"leak": (0.001, 0.004)}  # type: ignore[union-attr]
    with book.transaction("undo tuning"):
        assert tunings.undo(book, box.id) is None
    with pytest.raises(InputError, match="not tuned"), book.transaction("undo tuning"):
        tunings.undo(book, box.id)


def test_a_setting(book: Notebook) -> None:
    with book.transaction("settings"):
        book.add(Setting(id="web.language", value={"code": "de"}))
    assert book.get(Setting, "web.language").value == {"code": "de"}


def test_a_newer_notebook_is_refused(book: Notebook) -> None:
    book.db.execute("INSERT INTO migrations VALUES (?, 'x', 'x')", (newest_schema() + 1,))
    book.close()
    with pytest.raises(NotebookError, match="newer Underglass"):
        open_notebook(book.path)


def test_a_file_of_something_else_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "notebook.sqlite"
    with sqlite3.connect(path) as db:
        db.execute("CREATE TABLE other (x)")
    db.close()
    with pytest.raises(NotebookError, match="not a notebook of ours"):
        open_notebook(path)
    with pytest.raises(NotebookError, match="no notebook yet"):
        open_notebook(tmp_path / "nothing.sqlite")


def test_a_backup_a_day_before_the_first_entry(tmp_path: Path) -> None:
    day = [datetime(2027, 3, 1, 8, tzinfo=UTC)]
    book = open_notebook(tmp_path / "notebook.sqlite", create=True, clock=lambda: day[0])
    for n in range(15):
        for _ in range(2):
            with book.transaction("a note"):
                book.add(Note(at=NOON, text=f"day {n}"))
        day[0] += timedelta(days=1)
    kept = backups(book.path)
    assert len(kept) == 10
    assert kept[0].name.startswith("daily-20270315T")
    book.close()
    restore(book.path, kept[0], day[0])
    again = open_notebook(book.path, clock=lambda: day[0])
    assert len(again.find(Note)) == 28, "the state before the fifteenth day's first entry"
    assert len(backups(book.path)) == 11, "what the restore replaced is a backup too"


@pytest.mark.parametrize("how", ["head", "all", "middle"])
def test_a_damaged_file_names_its_newest_backup(book: Notebook, how: str) -> None:
    from underglass.notebook.backup import make_backup

    with book.transaction("notes"):
        for n in range(2000):
            book.add(Note(at=NOON, text=f"note {n} " * 10))
    kept = make_backup(book.db, book.path, "hand", NOON)
    book.db.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    book.close()
    whole = bytearray(book.path.read_bytes())
    if how == "head":
        whole[:100] = b"x" * 100
    elif how == "all":
        whole = bytearray(b"nothing of it is left " * 1000)
    else:
        whole[8192 : len(whole) - 4096] = b"\x55" * (len(whole) - 12288)
    book.path.write_bytes(whole)
    with pytest.raises(Damaged, match=kept.name):
        open_notebook(book.path).find(Note)
    aside = restore(book.path, kept, NOON)
    assert aside is not None
    assert aside.exists()
    with open_notebook(book.path) as again:
        assert len(again.find(Note)) == 2000


def test_a_notebook_of_the_first_schema_is_brought_up_to_date_after_a_backup(tmp_path: Path) -> None:
    path = tmp_path / "notebook.sqlite"
    with closing(sqlite3.connect(path, isolation_level=None)) as db:
        migrate(db, to=1)
        db.execute("INSERT INTO shelters VALUES ('b', '2027-03-10T12:00:00.000000Z', 1, 'box', 'x = 1', 0, 1, 0)")
        db.execute(
            "INSERT INTO sowings VALUES ('s', '2027-03-10T12:00:00.000000Z', 1, 'kale', '2027-03-10', 'b', 'b',"
            " NULL, '', NULL, 12, NULL, NULL, 'seed', NULL, NULL, NULL, NULL, NULL, 'own')"
        )
    with open_notebook(path) as book:
        (sowing,) = book.find(Sowing)
        assert (sowing.count, sowing.sown_known, sowing.large_leaf_on) == (12, True, None)
        assert [row for (row,) in book.db.execute("SELECT number FROM migrations")] == list(
            range(1, newest_schema() + 1)
        )
    assert [b.name.split("-")[0] for b in backups(path)] == ["schema"]
