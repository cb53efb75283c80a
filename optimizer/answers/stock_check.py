"""A catalog checked as a whole: what its reader cannot see row by row."""

from collections.abc import Mapping
from itertools import chain

from optimizer.answers.stock_figures import figure_findings
from optimizer.answers.stock_joints import joint_findings
from optimizer.answers.stock_rows import Rows
from optimizer.model.catalog import Catalog
from optimizer.model.stock import CatalogCheck, Place, Weight


def stock_check(catalog: Catalog, places: Mapping[str, Place]) -> CatalogCheck:
    """Everything in a catalog that does not go together, is out of line, stands twice, or is sold out.

    ``places`` says of every id of a part or product where its row stands.
    """
    rows, weights = Rows(catalog, places), list(Weight)
    findings = sorted(
        chain(joint_findings(rows), figure_findings(rows)),
        key=lambda each: (weights.index(each.weight), each.file, each.line, each.sort),
    )
    return CatalogCheck(catalog=catalog.name, parts=len(catalog.parts), products=len(catalog.products), findings=tuple(findings))
