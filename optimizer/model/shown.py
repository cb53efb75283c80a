"""Answers that show themselves in a notebook: who turns them into a page is told from above, since answers know no reports."""

from collections.abc import Callable
from html import escape

Renders = Callable[[object], str]

_RENDERS: list[Renders] = []

FRAME = '<iframe sandbox="" srcdoc="{page}" title="{title}" style="width: 100%; height: 44rem; border: 1px solid #888"></iframe>'

LINK, NO_LINK = '<a class="word" href=', '<a class="word" data-to='
"""In such a frame the address of a place in the page is one in the notebook, which would be loaded into the frame."""


def shown_by(renders: Renders) -> None:
    """Say what turns an answer into a whole HTML page; the last one counts."""
    _RENDERS[:] = [renders]


class Shown:
    """An answer that a notebook shows as its page, in a frame of its own that runs no scripts."""

    __slots__ = ()

    def _repr_html_(self) -> str | None:
        """The page in a frame; None (a notebook then shows the text) when nothing was said about how to make one."""
        if not _RENDERS:
            return None
        page = _RENDERS[0](self).replace(LINK, NO_LINK)
        return FRAME.format(page=escape(page), title=f"fullbore: {type(self).__name__}")
