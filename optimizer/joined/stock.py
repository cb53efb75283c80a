"""A catalog folder checked as a whole, with the place of each row."""

from pathlib import Path

from optimizer.answers.stock_check import stock_check
from optimizer.files.catalog_csv import read_catalog, row_places
from optimizer.model.stock import CatalogCheck, Place


def check_stock(folder: str | Path) -> CatalogCheck:
    """What does not go together in a catalog, is out of line, stands twice or is sold out, with file, line and cure.

    Raises InputError with all problems of rows that cannot be read: those come first.
    """
    catalog = read_catalog(folder)
    return stock_check(catalog, {row: Place(file=file, line=line) for row, (file, line) in row_places(Path(folder)).items()})
