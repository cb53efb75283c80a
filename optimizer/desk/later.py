"""Pages that take long to load: they are loaded once the first page is out, or when one of them is asked for before."""

from __future__ import annotations

import asyncio
import importlib
import pkgutil

from starlette.routing import BaseRoute, Router
from starlette.types import Receive, Scope, Send

from optimizer.desk import pages

__all__ = ["Later"]


class Later:
    """All pages of the room `pages` but those named, as an application: what no other route matches comes here."""

    def __init__(self, but: frozenset[str]) -> None:
        self._but = but
        self._loading: asyncio.Task[Router] | None = None

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer a request once the pages are loaded. Raises HTTPException where there is no such page."""
        router = await self.loaded()
        await router(scope, receive, send)

    async def loaded(self) -> Router:
        """The pages, loaded once, in a thread."""
        if self._loading is None:
            self._loading = asyncio.create_task(asyncio.to_thread(self._load))
        return await asyncio.shield(self._loading)

    def _load(self) -> Router:
        names = sorted({each.name for each in pkgutil.iter_modules(pages.__path__)} - self._but)
        modules = [importlib.import_module(f"{pages.__name__}.{name}") for name in names]
        routes: list[BaseRoute] = [route for module in modules for route in module.ROUTES]
        return Router(routes)
