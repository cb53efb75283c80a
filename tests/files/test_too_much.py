"""Files that are too much to be read are refused at once, and long lists of problems are cut with a count of the rest."""

import os
import threading
from pathlib import Path

import pytest

from optimizer import errors
from optimizer.errors import MOST_LISTED, BadValue, InputError
from optimizer.files import catalog_rows, csv_table, toml_keys
from optimizer.files.catalog_csv import read_catalog
from optimizer.files.csv_table import MOST_LINES
from optimizer.files.rig_toml import read_rig
from optimizer.files.toml_file import read_toml
from optimizer.model.catalog import Catalog

EMPTY = Catalog(parts={}, products=())
PUMPS = (Path(__file__).parents[1] / "data" / "small" / "catalog" / "pumps.csv").read_text(encoding="utf-8")


def test_a_key_of_very_many_parts_is_refused_before_it_is_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """200 kB of them took 12 GB: what the reader keeps of a key grows with the square of its parts."""
    monkeypatch.setattr("tomllib.loads", lambda *_, **__: pytest.fail("it was read"))
    for text in (
        ".".join(["a"] * 100_000) + " = 1",
        "\n [" + " . ".join(['"a"'] * 100) + "]",
        "x = {" + ".".join("ab" * 20) + "=1}",
    ):
        path = tmp_path / "rig.toml"
        path.write_text(text, encoding="utf-8")
        with pytest.raises(BadValue, match="a key of more than 16 parts"):
            read_toml(path)


def test_long_texts_are_no_keys(tmp_path: Path) -> None:
    path = tmp_path / "rig.toml"
    path.write_text('name = "a.b.c.d.e.f.g.h.i.j.k.l.m.n.o.p.q.r.s"\n# a.b.c.d.e.f.g.h.i.j.k.l.m.n.o.p.q.r.s\n', encoding="utf-8")
    assert list(read_toml(path)) == ["name"]


def test_unknown_keys_are_listed_as_far_as_anybody_reads(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """40 000 of them took 49 s, nearly all for near names that nobody would see."""
    asked = []
    monkeypatch.setattr(toml_keys, "near_sentence", lambda *words: asked.append(words) or "")
    path = tmp_path / "rig.toml"
    path.write_text("[tank]\n" + "".join(f"volumes{n} = 1\n" for n in range(2000)), encoding="utf-8")
    with pytest.raises(InputError) as caught:
        read_rig(path, EMPTY)
    assert len(asked) == MOST_LISTED
    assert len(caught.value.problems) == MOST_LISTED + 1
    # the loop and the volume are missing too
    assert caught.value.problems[-1].what == f"{2002 - MOST_LISTED} more problems are not listed."
    assert caught.value.problems[-1].place == "file"


def test_one_problem_more_is_one() -> None:
    problems = errors.Problems()
    problems.extend(errors.Problem(where=f"a.toml: key{n}", what="is wrong.", cure="Mend it.") for n in range(MOST_LISTED + 1))
    with pytest.raises(InputError, match=r"a\.toml: 51 problems, nothing was solved") as caught:
        problems.raise_if_any("a.toml")
    assert caught.value.problems[-1].what == "1 more problem is not listed."


def test_a_table_with_very_many_lines_is_refused_before_it_is_taken_apart(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """20 MB of empty lines took 5 GB."""
    monkeypatch.setattr(csv_table, "_records", lambda *_: pytest.fail("it was taken apart"))
    (tmp_path / "pumps.csv").write_text(PUMPS + "\n" * (MOST_LINES + 1), encoding="utf-8")
    with pytest.raises(InputError, match=f"at most {MOST_LINES} are read. Delete the empty rows"):
        read_catalog(tmp_path)


def test_a_table_with_very_many_cells_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(csv_table, "MOST_CELLS", 100)
    (tmp_path / "pumps.csv").write_text(PUMPS + "\n" * 100, encoding="utf-8")
    with pytest.raises(InputError, match="too many to be read"):
        read_catalog(tmp_path)


def test_a_column_full_of_faults_is_given_up(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A hundred thousand bad cells would be looked through for near names, each; no row behind is said to lack anything."""
    monkeypatch.setattr(catalog_rows, "MOST_FAULTS", 60)
    (tmp_path / "pumps.csv").write_text(PUMPS.partition("\n")[0], encoding="utf-8")
    rows = "".join(f"C{n},clamp,1,x{n},24\n" for n in range(500))
    (tmp_path / "clamps.csv").write_text(f"id,name,price,low_mm,high_mm\n{rows}", encoding="utf-8")
    with pytest.raises(InputError) as caught:
        read_catalog(tmp_path)
    assert caught.value.problems[-1].what == "10 more problems are not listed."
    assert all("is not a plain number" in problem.what for problem in caught.value.problems[:-1])


def test_a_pipe_is_no_file(tmp_path: Path) -> None:
    """A reader of a pipe would wait for ever for whoever writes into it."""
    path = tmp_path / "rig.toml"
    os.mkfifo(path)
    found: list[str] = []

    def read() -> None:
        try:
            read_rig(path, EMPTY)
        except InputError as error:
            found.append(str(error))

    reader = threading.Thread(target=read, daemon=True)
    reader.start()
    reader.join(30.0)
    assert found == ["rig.toml: 1 problem, nothing was solved.\n  file: this is not a file. Check the name and the folder."]
