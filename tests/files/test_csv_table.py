"""CSV as spreadsheets write it: separators, byte order marks, empty lines, quotes, odd line ends."""

import io
import random
from pathlib import Path

import pandas as pd
import pytest

from optimizer.errors import BadValue, Problems
from optimizer.files import csv_table, source_text
from optimizer.files.csv_table import Table, read_table


def table(text: str | bytes, folder: Path) -> tuple[Table | None, list[str]]:
    path = folder / "clamps.csv"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    problems = Problems()
    return read_table(path, problems), [f"{problem.where}: {problem.what}" for problem in problems]


@pytest.mark.parametrize(
    "text",
    [
        "id,low_mm\nA,20\nB,\n",
        "id;low_mm\nA;20\nB;\n",
        "\ufeffid,low_mm\r\nA,20\r\nB,\r\n",
        "ID , Low_mm\n A , 20 \nB,\n",
        "id,low_mm\rA,20\rB,\r",
        '"id","low_mm"\n"A","20"\n"B",""\n',
        "id,low_mm,,\nA,20,,\nB,,,\n",
        "id,low_mm\nA,20\nB,",
    ],
)
def test_the_same_table(text: str, tmp_path: Path) -> None:
    found, problems = table(text, tmp_path)
    assert problems == []
    assert found is not None
    assert found.columns == {"id": ["A", "B"], "low_mm": ["20", ""]}
    assert found.lines == [2, 3]


def test_lines_count_as_in_an_editor(tmp_path: Path) -> None:
    found, _ = table('\nid,name\n\nA,"two\nlines"\n,\n   \nB,x\n', tmp_path)
    assert found is not None
    assert found.lines == [4, 8]


def test_words_for_nothing_stay_words(tmp_path: Path) -> None:
    found, _ = table("id,name\nNA,null\nnan,None\n001,1e5\n", tmp_path)
    assert found is not None
    assert found.columns == {"id": ["NA", "nan", "001"], "name": ["null", "None", "1e5"]}


def test_rows_of_the_wrong_width_are_told_and_marked(tmp_path: Path) -> None:
    found, problems = table("a,b\n1\n1,2\n1,2,3\n1,2,\n", tmp_path)
    assert found is not None
    assert found.ragged == {0, 2}
    assert problems == [
        "clamps.csv line 2: the row has 1 cells, the header 2.",
        "clamps.csv line 4: the row has 3 cells, the header 2.",
    ]


def test_a_quoted_inch_mark(tmp_path: Path) -> None:
    found, problems = table('id,name\nA,"tail 3/4"" G"\nB,tail 3/4" G\n', tmp_path)
    assert problems == []
    assert found is not None
    assert found.columns["name"] == ['tail 3/4" G'] * 2


@pytest.mark.parametrize("text", [b"", b"\n\n", b"\xef\xbb\xbf", b" , \n,\n", b"a" * 200_000, b"," * 300, b'"', b"\xff\xfea\x00"])
def test_what_is_no_table(text: bytes, tmp_path: Path) -> None:
    found, problems = table(text, tmp_path)
    assert len(problems) == 1 or (found is not None and not found.columns["a" * 200_000])
    assert found is None or problems == []


def test_a_file_over_the_cap(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(csv_table, "LARGEST_BYTES", 1 << 20)
    found, problems = table("a" * ((1 << 20) + 1), tmp_path)
    assert found is None
    assert problems == ["clamps.csv: file: the file is larger than 1 MiB."]


@pytest.mark.parametrize("name", ["missing.csv", ".", "a\0b", "x" * 5000])
def test_paths_that_lead_nowhere(name: str, tmp_path: Path) -> None:
    with pytest.raises(BadValue):
        source_text.file_text(tmp_path / name, 100)


@pytest.mark.parametrize("seed", range(60))
def test_cells_are_those_that_pandas_reads(seed: int, tmp_path: Path) -> None:
    """Random text full of separators, quotes and line ends: every cell under a name, stripped."""
    chance = random.Random(seed)
    for _ in range(10):
        text = "a,b,c\n" + "".join(chance.choices(["x", " ", ",", ";", '"', '""', "\n", "\r\n", "é"], k=chance.randint(1, 40)))
        found, _ = table(text, tmp_path)
        if found is None:
            continue
        frame = pd.read_csv(
            io.StringIO(text, newline=""),
            sep=csv_table._separator(text),
            header=None,
            names=range(50),
            index_col=False,
            dtype=str,
            keep_default_na=False,
            skip_blank_lines=False,
        )
        stripped = [[cell.strip() for cell in row] for row in frame.to_numpy().tolist()]
        written = [row for row in stripped if any(row)]
        columns = [[row[n] for row in written[1:]] for n in range(len(found.header))]
        assert list(found.columns.values()) == columns
