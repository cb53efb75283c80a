"""Tables as CSV text that a spreadsheet opens without running anything in it, whichever separator it goes by."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence

from optimizer.errors import safe

__all__ = ["STARTS_FORMULA", "harmless", "sheet_csv"]

STARTS_FORMULA = tuple("=+-@＝＋－＠")
"""What makes a spreadsheet take text for a formula; the last four are full-width forms that some read alike."""

FORMULA = re.compile(rf"(^|[;,])(?=[\s\"']*[{re.escape(''.join(STARTS_FORMULA))}])")
"""Where a cell may begin that would be one; blanks and quotes before its sign may be taken away by a reader."""

NEEDS_QUOTES = re.compile(r'[,;"\r\n]')


def sheet_csv(header: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """Return a header line and the rows, as RFC 4180 has them; cells with a comma or a semicolon stand in quotes.

    >>> sheet_csv(("product", "serves"), [("C", "a; b")])
    'product,serves\\r\\nC,"a; b"\\r\\n'
    """
    return "".join(",".join(map(_cell, row)) + "\r\n" for row in (header, *rows))


def _cell(text: str) -> str:
    return '"' + text.replace('"', '""') + '"' if NEEDS_QUOTES.search(text) else text


def harmless(text: str) -> str:
    """Return text that a spreadsheet does not take for a formula: what would be one gets an apostrophe in front (OWASP, page "CSV
    Injection"). Where decimals have a comma a semicolon separates cells, so one may begin in the middle of the text.

    >>> harmless("=1+1"), harmless("hose;=1+1;")
    ("'=1+1", "hose;'=1+1;")
    """
    return FORMULA.sub(r"\1'", safe(text))
