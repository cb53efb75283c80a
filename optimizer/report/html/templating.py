"""Templates filled: every text escaped, one style sheet, and a policy that lets nothing else be loaded or run."""

from __future__ import annotations

import base64
import hashlib
from functools import cache
from importlib import resources

from jinja2 import DictLoader, Environment, StrictUndefined
from markupsafe import Markup

from optimizer.report.html.quantities import said

__all__ = ["rendered"]

NOTHING_ELSE = "default-src 'none'; base-uri 'none'; form-action 'none'; style-src 'sha256-{}'"
"""The page's own style sheet may be used, told by its hash, and nothing else: no script, no style attribute, no network."""


def rendered(template: str, **values: object) -> str:
    """A whole page by one of the templates, with the shared style sheet. Raises jinja2's UndefinedError for a missing value."""
    environment, style = _templates()
    digest = base64.b64encode(hashlib.sha256(style.encode()).digest()).decode("ascii")
    return environment.get_template(template).render(policy=NOTHING_ELSE.format(digest), style=Markup(style), **values)


@cache
def _templates() -> tuple[Environment, str]:
    """The templates by name, and the style sheet."""
    files = sorted(resources.files(__package__).joinpath("templates").iterdir(), key=lambda file: file.name)
    texts = {file.name: file.read_text(encoding="utf-8") for file in files if file.name.endswith((".html", ".css"))}
    style = texts.pop("page.css")
    loader = DictLoader(texts)
    return Environment(
        loader=loader, autoescape=True, undefined=StrictUndefined, finalize=said, trim_blocks=True, lstrip_blocks=True
    ), style
