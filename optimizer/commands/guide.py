"""The manual, by task: a list of its pages, or one page.

fullbore guide
fullbore guide fills
"""

from dataclasses import dataclass, replace

from optimizer.commands.command import Command, Progress, Told, plain
from optimizer.commands.options import flag, value


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """A page, or None for the list of all, and how it is laid out."""

    page: str | None = value("page", "PAGE", "fills", "a page of the manual", reads={"nargs": "?"})
    markdown: bool = flag("--markdown", "as Markdown")


def _answer(asked: Asked, _: Progress | None) -> Told:
    from optimizer.guide import page_of, pages
    from optimizer.guide.terminal import WIDTH, contents, in_plain_text

    if asked.page is None:
        return plain(f"Pages of the manual, each by its name: fullbore guide fills\n\n{contents(pages())}")
    page = page_of(asked.page)
    if asked.markdown:
        return plain(f"# {page.title}\n\n{page.body}")
    return replace(plain(in_plain_text(page)), text=lambda _, screen: in_plain_text(page, min(screen.width, WIDTH)))


COMMAND = Command(__doc__, Asked, _answer, also=())
