"""A question that is being answered: how far it is, as a page, as events for a script, and the button that ends it."""

from __future__ import annotations

import json
from collections.abc import AsyncIterator

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response, StreamingResponse
from starlette.routing import Route

from optimizer.desk.desk import desk_of, form_of, leads_to, page
from optimizer.desk.jobs import Job


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
    """How far a question is, as server-sent events; the last is named "done"."""
    job = job_of(request)

    async def told() -> AsyncIterator[str]:
        async for now in desk_of(request).jobs.follow(job):
            name = "far" if now.state == "waiting" else "done"
            yield f"event: {name}\ndata: {json.dumps(now.far)}\n\n"

    return StreamingResponse(told(), media_type="text/event-stream")


async def stop(request: Request) -> Response:
    """End a question with what it has."""
    form = await form_of(request)
    job = job_of(request)
    desk_of(request).jobs.stop(job)
    return RedirectResponse(leads_to(form, f"/asked/{job.key}"), 303)


ROUTES = [
    Route("/asked/{key}", shown),
    Route("/asked/{key}/events", events),
    Route("/asked/{key}/stop", stop, methods=["POST"]),
]
