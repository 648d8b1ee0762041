from __future__ import annotations

from pathlib import Path

import pytest

from reports.command_line.output_folder import check_folder, write_folder
from reports.errors import OutputError

OLD = {"report.html": b"old page", "plan.json": b"old numbers"}
NEW = {"report.html": b"new page", "plan.json": b"new numbers", "more.csv": b"more"}


def contents(folder: Path) -> dict[str, bytes]:
    return {str(path.relative_to(folder)): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def test_a_new_folder_appears_with_everything_in_it(tmp_path: Path) -> None:
    write_folder(tmp_path / "a" / "b" / "report", NEW)

    assert contents(tmp_path / "a" / "b" / "report") == NEW
    assert [path.name for path in (tmp_path / "a" / "b").iterdir()] == ["report"]


def test_a_second_report_replaces_the_first_and_keeps_what_is_not_ours(tmp_path: Path) -> None:
    write_folder(tmp_path / "r", {**OLD, "stale.csv": b"stale"})
    (tmp_path / "r" / "notes.txt").write_bytes(b"mine")
    (tmp_path / "r" / "photos").mkdir()

    write_folder(tmp_path / "r", NEW, obsolete=["stale.csv", "never.csv", *NEW])

    assert contents(tmp_path / "r") == {**NEW, "notes.txt": b"mine"}
    assert (tmp_path / "r" / "photos").is_dir()
    assert [path.name for path in tmp_path.iterdir()] == ["r"]


@pytest.mark.parametrize("fails_at", [1, 2, 3, 4, 5])
def test_a_failure_midway_leaves_the_old_report_whole(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, fails_at: int
) -> None:
    write_folder(tmp_path / "r", OLD)
    rename = Path.rename
    calls = 0

    def failing(self: Path, target: Path) -> Path:
        nonlocal calls
        calls += 1
        if calls == fails_at:
            raise OSError(28, "No space left on device")
        return rename(self, target)

    monkeypatch.setattr(Path, "rename", failing)
    with pytest.raises(OutputError, match=r"r: cannot be written \(No space left on device\)"):
        write_folder(tmp_path / "r", NEW)

    assert contents(tmp_path / "r") == OLD
    assert [path.name for path in tmp_path.iterdir()] == ["r"]


def test_a_failure_while_writing_leaves_no_new_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    write = Path.write_bytes

    def failing(self: Path, content: bytes) -> int:
        if self.name == "more.csv":
            raise OSError(28, "No space left on device")
        return write(self, content)

    monkeypatch.setattr(Path, "write_bytes", failing)
    with pytest.raises(OutputError, match="cannot be written"):
        write_folder(tmp_path / "new" / "r", NEW)

    assert list(tmp_path.iterdir()) == []


def test_an_interrupt_leaves_the_old_report_whole(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    write_folder(tmp_path / "r", OLD)
    rename = Path.rename
    calls = 0

    def interrupted(self: Path, target: Path) -> Path:
        nonlocal calls
        calls += 1
        if calls == 3:
            raise KeyboardInterrupt
        return rename(self, target)

    monkeypatch.setattr(Path, "rename", interrupted)
    with pytest.raises(KeyboardInterrupt):
        write_folder(tmp_path / "r", NEW)

    assert contents(tmp_path / "r") == OLD
    assert [path.name for path in tmp_path.iterdir()] == ["r"]


def test_a_link_to_a_folder_is_written_where_it_points(tmp_path: Path) -> None:
    (tmp_path / "real").mkdir()
    (tmp_path / "link").symlink_to(tmp_path / "real", target_is_directory=True)

    write_folder(tmp_path / "link", NEW)

    assert (tmp_path / "link").is_symlink()
    assert contents(tmp_path / "real") == NEW


def test_files_below_the_folder_are_written_too(tmp_path: Path) -> None:
    (tmp_path / "r").mkdir()
    write_folder(tmp_path / "r", {"shelves/a.csv": b"a"})

    assert contents(tmp_path / "r") == {"shelves/a.csv": b"a"}


def test_a_path_that_is_a_file_is_refused_before_anything_is_done(tmp_path: Path) -> None:
    (tmp_path / "file").write_bytes(b"mine")

    with pytest.raises(OutputError, match="file: is a file; give the name of a folder"):
        check_folder(tmp_path / "file")
    with pytest.raises(OutputError, match="is not a folder; give a folder in one that exists"):
        check_folder(tmp_path / "file" / "below")
    assert contents(tmp_path) == {"file": b"mine"}


def test_a_folder_that_cannot_be_written_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def forbidden(self: Path, mode: int = 0o666, exist_ok: bool = True) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "touch", forbidden)
    with pytest.raises(OutputError, match=r"cannot be written \(Permission denied\); give a folder"):
        check_folder(tmp_path / "r")


def test_looking_at_a_folder_leaves_nothing_behind(tmp_path: Path) -> None:
    check_folder(tmp_path / "a" / "b")
    (tmp_path / "r").mkdir()
    check_folder(tmp_path / "r")

    assert [path.name for path in tmp_path.rglob("*")] == ["r"]
