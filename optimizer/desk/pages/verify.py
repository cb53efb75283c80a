"""After the work: was it the upgrade or the cleaning? Two rig files, before and after, with their fills and those of a log."""

from __future__ import annotations

from pathlib import PurePosixPath
from urllib.parse import quote, urlencode

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from optimizer.desk.desk import desk_of, page
from optimizer.desk.logs import AFTER, logs_of
from optimizer.desk.told import asking, measures_of
from optimizer.report.html.chart import verify_bars
from optimizer.report.html.quantities import Quantities
from optimizer.report.measurement_words import CAUTION


async def shown(request: Request) -> Response:
    """The files to choose, and the verdict where both are there."""
    desk, name, query = desk_of(request), request.path_params["name"], request.query_params
    desk.folder.read(name)
    rigs = desk.folder.of_kind("rig")
    logs = logs_of(desk.folder, name)
    before, after = _pair(name, rigs)
    before, after = query.get("before") or before, query.get("after") or after
    log = query.get("log", "")
    catalog = desk.catalog(request)
    found = None
    if after:
        words = ["verify", before, after, *(["--catalog", catalog] if catalog else []), *(["--log", log] if log else [])]
        files = [before, after, *([catalog] if catalog else []), *([log] if log else [])]
        found = await asking(request, words, *files)
    return page(
        request,
        "verify.html",
        "After the work",
        name=name,
        rigs=rigs,
        logs=logs,
        before=before,
        after=after,
        log=log,
        found=found,
        bars=() if found is None or found.told is None else verify_bars(found.told),
        back=f"/verify/{quote(name)}?{urlencode({'before': before, 'after': after, 'log': log})}",
        q=Quantities(measures=measures_of(request), currency=""),
        caution=CAUTION,
    )


def _pair(name: str, rigs: tuple[str, ...]) -> tuple[str, str]:
    """The tank as it was and as the work left it, by their names; empty for one that is not there."""
    path = PurePosixPath(name)
    if path.stem.endswith(AFTER):
        before = path.with_name(f"{path.stem.removesuffix(AFTER)}.toml").as_posix()
        return (before, name) if before in rigs else (name, "")
    after = path.with_name(f"{path.stem}{AFTER}.toml").as_posix()
    return name, after if after in rigs else ""


ROUTES = [Route("/verify/{name:path}", shown)]
