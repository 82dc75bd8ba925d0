"""An archive that is damaged, strange or hostile gets one sentence, and the notebook that is there stays as it was."""

from __future__ import annotations

import json
import zipfile
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest

from underglass.errors import InputError
from underglass.notebook.archive import export_archive, import_archive
from underglass.notebook.backup import backups, restore
from underglass.notebook.migrate import newest_schema
from underglass.notebook.photos import keep_picture, picture_path
from underglass.notebook.records import Note, Photo
from underglass.notebook.store import Notebook, open_notebook

NOON = datetime(2027, 3, 10, 12, tzinfo=UTC)


@pytest.fixture
def book(tmp_path: Path) -> Iterator[Notebook]:
    with open_notebook(tmp_path / "here" / "notebook.sqlite", create=True) as opened:
        with opened.transaction("notes"):
            opened.add(Note(at=NOON, text='kept, "with" commas\nand lines', tags=("a", "b")))
        yield opened


def rewritten(archive: Path, name: str, change: Callable[[bytes], bytes]) -> Path:
    """The archive with one of its files changed."""
    out = archive.with_name("changed.zip")
    with zipfile.ZipFile(archive) as given, zipfile.ZipFile(out, "w") as made:
        for entry in given.namelist():
            data = given.read(entry)
            made.writestr(entry, change(data) if entry == name else data)
    return out


def edited(**changes: object) -> Callable[[bytes], bytes]:
    return lambda data: json.dumps({**json.loads(data), **changes}).encode()


BAD: dict[str, tuple[str, Callable[[bytes], bytes], str]] = {
    "another format": ("manifest.json", edited(format="a recipe book"), "something else"),
    "no JSON": ("manifest.json", lambda _: b"{", "not a whole archive"),
    "newer": ("manifest.json", edited(schema=newest_schema() + 1), "newer Underglass"),
    "no schema": ("manifest.json", edited(schema=None), "no schema"),
    "a row too few": ("notes.csv", lambda data: data.split(b"\n", 1)[0] + b"\n", "rows that the manifest counts"),
    "other columns": ("notes.csv", lambda data: data.replace(b'"text"', b'"words"'), "columns of its schema"),
    "a number that is none": ("changes.csv", lambda data: data.replace(b'"1"', b'"one"', 1), "not a whole archive"),
    "a stranger's kind": ("notes.csv", lambda data: data.replace(b"2027-03-10T12", b"2027-03-10 12"), "read back"),
    "a shelter that is not there": (
        "notes.csv",
        lambda data: data.replace(b',"",""\n', b',"nowhere",""\n'),
        "not there",
    ),
    "a photo beside the folder": ("manifest.json", edited(photos=["../../evil.jpg"]), "name of ours"),
    "a photo that is missing": ("manifest.json", edited(photos=["0" * 32 + ".jpg"]), "not a whole archive"),
    "not UTF-8": ("notes.csv", lambda data: data.replace(b"kept", b"k\xffpt"), "not a whole archive"),
}


@pytest.mark.parametrize("case", list(BAD))
def test_a_bad_archive_changes_nothing(case: str, book: Notebook, tmp_path: Path) -> None:
    name, change, words = BAD[case]
    archive = tmp_path / "all.zip"
    export_archive(book, archive)
    with pytest.raises(InputError, match=words):
        import_archive(rewritten(archive, name, change), book.path, NOON, replace=True)
    assert [n.text for n in book.find(Note)] == ['kept, "with" commas\nand lines']
    assert backups(book.path) == []


def test_what_is_no_archive(book: Notebook, tmp_path: Path) -> None:
    text = tmp_path / "letter.txt"
    text.write_text("dear all")
    with pytest.raises(InputError, match="not a whole archive"):
        import_archive(text, book.path, NOON, replace=True)
    with pytest.raises(InputError, match="no such file"):
        import_archive(tmp_path / "nothing.zip", book.path, NOON, replace=True)
    cut = tmp_path / "cut.zip"
    export_archive(book, cut)
    cut.write_bytes(cut.read_bytes()[:-200])
    with pytest.raises(InputError, match="not a whole archive"):
        import_archive(cut, book.path, NOON, replace=True)


def test_an_archive_takes_the_place_of_a_notebook_only_when_told(book: Notebook, tmp_path: Path) -> None:
    """Also while another program has the notebook open: it sees the new state, and the former is a backup."""
    archive = tmp_path / "all.zip"
    export_archive(book, archive)
    with book.transaction("later"):
        book.add(Note(at=NOON, text="later"))
    with pytest.raises(InputError, match="--replace"):
        import_archive(archive, book.path, NOON)
    former = import_archive(archive, book.path, NOON, replace=True)
    assert [n.text for n in book.find(Note)] == ['kept, "with" commas\nand lines']
    with book.transaction("after"):
        book.add(Note(at=NOON, text="after"))
    assert former is not None
    restore(book.path, former, NOON)
    assert [n.text for n in book.find(Note)] == ['kept, "with" commas\nand lines', "later"]


def test_a_failed_export_leaves_nothing(book: Notebook, tmp_path: Path) -> None:
    from underglass.errors import NotebookError

    with pytest.raises(NotebookError, match="nowhere"):
        export_archive(book, tmp_path / "nowhere" / "all.zip")
    assert list(tmp_path.glob("**/*.part")) == []


def test_a_picture_is_known_by_its_first_bytes(book: Notebook) -> None:
    assert keep_picture(book.path, b"\x89PNG\r\n\x1a\nrest").endswith(".png")
    assert keep_picture(book.path, b"RIFF\0\0\0\0WEBPrest").endswith(".webp")
    for wrong in (b"", b"<svg>", b"RIFF\0\0\0\0WAVE", b"GIF89a"):
        with pytest.raises(InputError, match="not a JPEG, PNG or WebP"):
            keep_picture(book.path, wrong)
    for name in ("../notebook.sqlite", "a.jpg", "0" * 32 + ".jpg/..", "0" * 32 + ".svg"):
        with pytest.raises(InputError, match="not a photo of this notebook"):
            picture_path(book.path, name)


def test_a_photo_loses_what_the_camera_wrote_into_it(book: Notebook) -> None:
    """Exif 2.3, tag 0x8825: where it was taken; tag 0x0112 = 6: to be turned by a quarter."""
    import io

    from PIL import Image

    from underglass.services.photos import add_photo

    exif = Image.Exif()
    exif[0x0112] = 6
    exif.get_ifd(0x8825)[1] = "N"
    made = io.BytesIO()
    Image.new("RGB", (3000, 1000), "green").save(made, "JPEG", exif=exif.tobytes())
    photo = add_photo(book, NOON, made.getvalue(), "the box")
    with Image.open(picture_path(book.path, photo.file)) as kept:
        assert kept.size == (533, 1600)
        assert len(kept.getexif()) == 0
    with pytest.raises(InputError, match="cannot be read"):
        add_photo(book, NOON, made.getvalue()[:100])
    assert len(book.find(Photo)) == 1
