"""Files are written whole or not at all, and never over another unasked."""

from __future__ import annotations

import os
import stat
from pathlib import Path

import pytest

from linkage import files
from linkage.errors import OutputError
from linkage.files import check_free, make_folder, write_bytes, write_text


def test_what_is_written_is_there_and_nothing_beside_it(tmp_path: Path) -> None:
    path = tmp_path / "sheet.txt"
    assert write_text(path, "länge 12,7\n") == path
    assert path.read_bytes() == "länge 12,7\n".encode()
    assert os.listdir(tmp_path) == ["sheet.txt"]


def test_a_new_file_has_the_permissions_of_any_new_file(tmp_path: Path) -> None:
    plain = tmp_path / "plain"
    plain.write_bytes(b"")
    assert write_bytes(tmp_path / "ours", b"x").stat().st_mode == plain.stat().st_mode


def test_a_file_that_stands_there_is_kept(tmp_path: Path) -> None:
    path = tmp_path / "sheet.txt"
    path.write_text("old")
    with pytest.raises(OutputError, match=r"sheet\.txt: stands there already; .*overwrite=True"):
        write_text(path, "new")
    assert path.read_text() == "old"
    assert os.listdir(tmp_path) == ["sheet.txt"]


def test_a_file_made_meanwhile_is_kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "sheet.txt"
    monkeypatch.setattr(files, "check_free", lambda *_, **__: path.write_text("quicker"))
    with pytest.raises(OutputError, match="stands there already"):
        write_text(path, "new")
    assert path.read_text() == "quicker"
    assert os.listdir(tmp_path) == ["sheet.txt"]


def test_writing_over_keeps_the_permissions_and_follows_a_link(tmp_path: Path) -> None:
    real, link = tmp_path / "real", tmp_path / "link"
    real.write_text("old")
    real.chmod(0o640)
    link.symlink_to(real)
    write_text(link, "new", overwrite=True)
    assert link.is_symlink()
    assert real.read_text() == "new"
    assert stat.S_IMODE(real.stat().st_mode) == 0o640


@pytest.mark.parametrize("overwrite", [False, True])
def test_a_write_that_fails_leaves_all_as_it_was(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, overwrite: bool
) -> None:
    path = tmp_path / "sheet.txt"
    if overwrite:
        path.write_text("old")
    before = {p.name: p.read_text() for p in tmp_path.iterdir()}

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    for name in ("fsync", "replace"):
        with monkeypatch.context() as patch:
            patch.setattr(os, name, full)
            with pytest.raises(OutputError, match="the disk is full; make room"):
                write_text(path, "new", overwrite=overwrite)
        assert {p.name: p.read_text() for p in tmp_path.iterdir()} == before


def test_names_that_cannot_be_used_say_why(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    for name, says in {
        "": "the name of the file is empty; give it a name",
        str(tmp_path): "is a folder; name a file in it",
        str(tmp_path / "none" / "x"): f'there is no folder "{tmp_path / "none"}"; make it first',
        str(tmp_path / "pipe"): "is not a plain file; choose another name",
        str(tmp_path / "pipe" / "x"): "cannot be written",
        str(tmp_path / ("n" * 300)): "cannot be written",
        str(tmp_path / "zero\0"): "cannot be written",
    }.items():
        with pytest.raises(OutputError) as caught:
            write_bytes(name, b"x", overwrite=True)
        assert says in str(caught.value)
    assert os.listdir(tmp_path) == ["pipe"]


def test_a_locked_folder_says_so(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(os, "access", lambda *_: False)  # root may write everywhere
    with pytest.raises(OutputError, match="may not be written; choose a folder of your own"):
        write_bytes(tmp_path / "x", b"x")


def test_all_taken_names_are_told_at_once(tmp_path: Path) -> None:
    for name in "ac":
        (tmp_path / name).touch()
    paths = [tmp_path / name for name in "abc"]
    with pytest.raises(OutputError) as caught:
        check_free(paths)
    assert [line.partition(":")[0] for line in str(caught.value).splitlines()] == [str(paths[0]), str(paths[2])]
    check_free(paths, overwrite=True)
    check_free(paths[1:2])


def test_a_folder_is_made_once(tmp_path: Path) -> None:
    wanted = tmp_path / "a" / "b"
    assert make_folder(wanted) == make_folder(wanted) == wanted
    assert wanted.is_dir()
    (tmp_path / "file").touch()
    for path in (tmp_path / "file", tmp_path / "file" / "x"):
        with pytest.raises(OutputError, match="a file stands where a folder should"):
            make_folder(path)
