"""A question that is being answered: how far it is, as a page, as events for a script, and the button that ends it."""

from __future__ import annotations

import asyncio
import json
import time
from collections.abc import AsyncIterator, Sequence

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response, StreamingResponse
from starlette.routing import Route

from optimizer.desk.desk import desk_of, form_of, leads_to, page
from optimizer.desk.jobs import Job, Jobs
from optimizer.report.layout import GLUE
from optimizer.report.measures import Measures, system

MOST_STREAMS, MOST_FOLLOWED = 24, 12
STILL_S, LONGEST_S = 5.0, 600.0
_STREAMS = asyncio.Semaphore(MOST_STREAMS)


def job_of(request: Request) -> Job:
    """The question that a request names. Raises HTTPException for none."""
    job = desk_of(request).jobs.get(request.path_params["key"])
    if job is None:
        raise HTTPException(404, "This question is not known any more: ask it again.")
    return job


async def shown(request: Request) -> Response:
    """The answer as text, or how far it is."""
    job = job_of(request)
    await desk_of(request).jobs.until_known(job, 0.3)
    return page(request, "asked.html", job.words[0], job=job, answer=job.answer)


async def events(request: Request) -> Response:
    """How far questions are, as server-sent events; one that is known comes as "done". The keys of more questions may stand
    behind that of the first, with dots between: a browser opens few connections at once, so a page asks for all in one."""
    jobs = [desk_of(request).jobs.get(key) for key in request.path_params["keys"].split(".")[:MOST_FOLLOWED]]
    known = [job for job in jobs if job is not None]
    if not known or _STREAMS.locked():
        return Response(status_code=204)  # a browser asks no more then
    measures = system(desk_of(request).units(request))
    return StreamingResponse(_told(desk_of(request).jobs, known, measures), media_type="text/event-stream")


def _far(job: Job, measures: Measures) -> dict[str, object]:
    """How far a question is, the best flow so far in words."""
    best = job.far.get("best_m3s")
    said = {"best": measures.flow_text(best).replace(GLUE, "\u00a0")} if best else {}
    return {"key": job.key, **said, **job.far}


async def _told(jobs: Jobs, following: Sequence[Job], measures: Measures) -> AsyncIterator[str]:
    async with _STREAMS:
        for job in following:
            job.followers += 1
        try:
            sent: dict[str, object] = {}
            until_s = time.monotonic() + LONGEST_S
            while time.monotonic() < until_s and not jobs.closing:
                for job in following:
                    now = ("far" if job.state == "waiting" else "done", job.far)
                    if sent.get(job.key) != now:
                        sent[job.key] = now
                        yield f"event: {now[0]}\ndata: {json.dumps(_far(job, measures))}\n\n"
                if all(job.state != "waiting" for job in following):
                    return
                await jobs.anything(following, STILL_S)
                yield ":\n\n"  # whoever has gone is noticed by what cannot be sent
        finally:
            for job in following:
                job.followers -= 1


async def stop(request: Request) -> Response:
    """End a question with what it has."""
    form = await form_of(request)
    job = job_of(request)
    desk_of(request).jobs.stop(job)
    return RedirectResponse(leads_to(form, f"/asked/{job.key}"), 303)


async def again(request: Request) -> Response:
    """Forget an answer, so that the page which asks for it has it worked out anew."""
    form = await form_of(request)
    job = job_of(request)
    desk_of(request).jobs.forget(job)
    return RedirectResponse(leads_to(form, "/"), 303)


ROUTES = [
    Route("/asked/{key}", shown),
    Route("/asked/{keys}/events", events),
    Route("/asked/{key}/again", again, methods=["POST"]),
    Route("/asked/{key}/stop", stop, methods=["POST"]),
]
