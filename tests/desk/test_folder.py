"""The files of a desk: no name leads out of its folder, and nothing that somebody else has saved goes."""

import os
import threading
from pathlib import Path

import pytest

from optimizer.desk import folder as folders
from optimizer.desk.folder import ABSENT, Changed, Folder, Forbidden
from optimizer.files import swap


@pytest.fixture
def folder(tmp_path: Path) -> Folder:
    """A folder with a file, beside a secret."""
    (tmp_path / "desk" / "rigs").mkdir(parents=True)
    (tmp_path / "desk" / "rigs" / "a.toml").write_text("[loop]\n")
    (tmp_path / "secret.toml").write_text("[loop]\nsecret = 1\n")
    return Folder(tmp_path / "desk")


@pytest.mark.parametrize(
    "name",
    ["", ".", "..", "../secret.toml", "rigs/../../secret.toml", "/etc/passwd", "rigs//a.toml", "rigs\\a.toml", ".hidden",
     "rigs/a.toml\0", "rigs/a\n.toml", "out/secret.toml", "link.toml", "round", "\u202ea.toml", "x" * 10_000],
)  # fmt: skip
def test_no_name_leads_out_of_the_folder(folder: Folder, name: str) -> None:
    """Neither by its parts nor over a link, to read or to write."""
    (folder.root / "out").symlink_to(folder.root.parent)
    (folder.root / "link.toml").symlink_to(folder.root.parent / "secret.toml")
    (folder.root / "round").symlink_to(folder.root / "round")
    for does in (folder.read, lambda each: folder.save(each, "", ABSENT)):
        with pytest.raises((Forbidden, OSError)) as error:
            does(name)
        assert not isinstance(error.value, FileNotFoundError)
    assert (folder.root.parent / "secret.toml").read_text().endswith("secret = 1\n")
    assert folder.files() == ("rigs/a.toml",)


def test_whoever_saves_second_is_told_and_loses_nothing(folder: Folder) -> None:
    """A file that was changed, taken away or begun meanwhile; both texts are in hand."""
    seen = folder.read("rigs/a.toml").version
    (folder.root / "rigs" / "a.toml").write_text("theirs")
    with pytest.raises(Changed) as changed:
        folder.save("rigs/a.toml", "mine", seen)
    assert (changed.value.now.content, changed.value.mine) == ("theirs", "mine")
    assert folder.save("rigs/a.toml", "mine", changed.value.now.version).content == "mine"
    (folder.root / "rigs" / "a.toml").unlink()
    with pytest.raises(Changed) as gone:
        folder.save("rigs/a.toml", "again", folders._version(b"mine"))
    assert not gone.value.now.is_there
    (folder.root / "rigs" / "a.toml").write_text("come meanwhile")
    with pytest.raises(Changed):
        folder.save("rigs/a.toml", "new", ABSENT)
    assert folder.read("rigs/a.toml").content == "come meanwhile"
    assert os.listdir(folder.root / "rigs") == ["a.toml"]


@pytest.mark.parametrize("content", ["theirs", None])
@pytest.mark.parametrize("can_swap", [True, False])
def test_what_is_written_between_looking_and_replacing_stays(
    folder: Folder, monkeypatch: pytest.MonkeyPatch, content: str | None, can_swap: bool
) -> None:
    """An editor saves, or takes the file away, in the very moment in which the draft is ready."""
    path = folder.root / "rigs" / "a.toml"
    if not can_swap:
        monkeypatch.setattr(swap, "_renameat2", lambda: None)
    written_beside = folders.written_beside

    def late(place: Path, raw: bytes) -> object:
        made = written_beside(place, raw)
        if content is None:
            path.unlink()
        else:
            other = path.with_name("editor")
            other.write_text(content)
            os.replace(other, path)
        return made

    seen = folder.read("rigs/a.toml").version
    monkeypatch.setattr(folders, "written_beside", late)
    with pytest.raises(Changed) as changed:
        folder.save("rigs/a.toml", "mine", seen)
    assert changed.value.now.content == (content or "")
    assert path.exists() == (content is not None)


def test_two_who_save_at_once_each_keep_what_they_were_told_is_saved(folder: Folder) -> None:
    """Every text that was confirmed was seen by whoever saved next: counting by many threads loses no step, however they meet."""
    path = folder.root / "n.toml"
    path.write_text("0")

    def count() -> None:
        done = 0
        while done < 25:
            text = folder.read("n.toml")
            try:
                folder.save("n.toml", str(int(text.content) + 1), text.version)
                done += 1
            except Changed:
                continue

    threads = [threading.Thread(target=count) for _ in range(4)]
    for each in threads:
        each.start()
    for each in threads:
        each.join(60)
    assert path.read_text() == "100"


def test_what_is_no_text_is_not_shown_with_gaps(folder: Folder) -> None:
    """To save what was shown would lose what stood in the gaps."""
    (folder.root / "rigs" / "a.toml").write_bytes(b"name = '\xff'\n")
    with pytest.raises(OSError, match="UTF-8"):
        folder.read("rigs/a.toml")


def test_a_fingerprint_follows_every_change_at_once(folder: Folder) -> None:
    """Also one of the same length within the same tick of the clock."""
    path = folder.root / "rigs" / "a.toml"
    found = set()
    for n in range(200):
        path.write_text(f"[loop{n:04}]\n")
        found.add(folder.basis(["rigs"]))
    assert len(found) == 200
    assert folder.of_kind("rig") == ()


def test_a_folder_too_large_to_look_through_is_shown_in_part(folder: Folder, monkeypatch: pytest.MonkeyPatch) -> None:
    """A desk opened over all that somebody has does not look for ever."""
    monkeypatch.setattr(folders, "MOST_LOOKED_AT", 10)
    for n in range(30):
        (folder.root / f"d{n:02}").mkdir()
        (folder.root / f"d{n:02}" / "t.toml").write_text("")
    assert len(folder.files()) < 30
