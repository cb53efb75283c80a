"""Templates filled: every text escaped, one style sheet, and a policy that lets nothing else be loaded or run."""

from __future__ import annotations

import base64
import hashlib
from functools import cache
from importlib import resources

from jinja2 import DictLoader, Environment, StrictUndefined
from markupsafe import Markup

from optimizer.report.html.quantities import said

__all__ = ["policy", "rendered"]

NOTHING_ELSE = "default-src 'none'; base-uri 'none'; form-action 'none'; style-src 'sha256-{}'"
"""The page's own style sheet may be used, told by its hash, and nothing else: no script, no style attribute, no network."""


def rendered(template: str, style: str = "page.css", **values: object) -> str:
    """A whole page by one of the templates, with a style sheet. Raises jinja2's UndefinedError for a missing value."""
    environment, styles = _templates()
    page = environment.get_template(template)
    return page.render(policy=policy(style), style=Markup(styles[style]), **values)


def policy(style: str = "page.css") -> str:
    """What a page with a style sheet lets be loaded and run, for its head or for whoever sends it."""
    digest = base64.b64encode(hashlib.sha256(_templates()[1][style].encode()).digest()).decode("ascii")
    return NOTHING_ELSE.format(digest)


@cache
def _templates() -> tuple[Environment, dict[str, str]]:
    """The templates, and the style sheets by name."""
    files = sorted(resources.files(__package__).joinpath("templates").iterdir(), key=lambda file: file.name)
    texts = {file.name: file.read_text(encoding="utf-8") for file in files if file.name.endswith((".html", ".css"))}
    styles = {name: text for name, text in texts.items() if name.endswith(".css")}
    return Environment(
        loader=DictLoader(texts), autoescape=True, undefined=StrictUndefined, finalize=said, trim_blocks=True, lstrip_blocks=True
    ), styles
