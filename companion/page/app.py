"""The routes of the page. Each is a thin function: it reads what was asked, asks the stand, and answers in JSON.

Conventions: as in :mod:`companion.page.drawing` and :mod:`companion.page.outgoing`.
"""

from __future__ import annotations

import contextlib
import threading
from collections.abc import AsyncIterator
from pathlib import Path
from typing import Any

import msgspec
from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.requests import ClientDisconnect, Request
from starlette.responses import FileResponse, JSONResponse, RedirectResponse, Response, StreamingResponse
from starlette.routing import Mount, Route
from starlette.staticfiles import StaticFiles

from companion.errors import CompanionError
from companion.messages import Part
from companion.page.between import Between
from companion.page.draughtsman import Draughtsman, Drawing, View
from companion.page.guard import COOKIE, Code
from companion.page.how import AS_WRITTEN, How
from companion.page.outgoing import Incoming
from companion.page.sounds import sound_names, sound_wav
from companion.page.stand import MusicStand
from companion.stage.clock import now

STATIC = Path(__file__).parent / "static"


class DemoAsked(msgspec.Struct, frozen=True):
    """What is sent to have a demo played."""

    chart: str
    you: tuple[Part, ...] = ("melody",)
    how: How = AS_WRITTEN


class CodeGiven(msgspec.Struct, frozen=True):
    """What is sent to be let in."""

    code: str


def application(stand: MusicStand, code: Code | None = None) -> Starlette:
    """The page for a stand, without its guard (:class:`companion.page.guard.Guard`).

    Parameters
    ----------
    stand : MusicStand
    code : Code, optional
        What other machines are let in by.
    """

    draughtsman = Draughtsman()
    between = Between(stand)

    async def index(request: Request) -> Response:
        return FileResponse(STATIC / "index.html")

    async def events(request: Request) -> Response:
        return StreamingResponse(stand.hub.stream(), media_type="text/event-stream")

    async def clock(request: Request) -> Response:
        return JSONResponse({"now": now()})

    async def charts(request: Request) -> Response:
        return JSONResponse({"charts": await run_in_threadpool(stand.choices)})

    async def drawing(request: Request) -> Response:
        """What is drawn of the tune on the stand; of another than the page means, nothing."""
        wanted = msgspec.convert(request.path_params["drawing"], Drawing)
        view = msgspec.convert(dict(request.query_params), View, strict=False)
        what = stand.now
        if what.begun.number != view.number:
            return JSONResponse({"fault": "another tune is on the stand"}, 409)
        drawn = await run_in_threadpool(draughtsman.draw, wanted, what, view)
        return Response(drawn, media_type="application/json")

    async def sounds(request: Request) -> Response:
        return JSONResponse(sound_names())

    async def sound(request: Request) -> Response:
        voice, midi = request.path_params["voice"], request.path_params["midi"]
        wav = await run_in_threadpool(sound_wav, voice, midi)
        return Response(wav, media_type="audio/wav") if wav else Response(status_code=404)

    async def wish(request: Request) -> Response:
        asked = await _read(request, Incoming)
        await run_in_threadpool(stand.wish, asked.wish, asked.value)
        return Response(status_code=204)

    async def demo(request: Request) -> Response:
        asked = await _read(request, DemoAsked)
        await run_in_threadpool(stand.demo, asked.chart, asked.you, asked.how)
        return Response(status_code=204)

    async def stop(request: Request) -> Response:
        await run_in_threadpool(stand.stop)
        return Response(status_code=204)

    async def code_page(request: Request) -> Response:
        return FileResponse(STATIC / "code.html") if code else RedirectResponse("/")

    async def enter(request: Request) -> Response:
        token = code.enter((await _read(request, CodeGiven)).code) if code else None
        if token is None:
            return JSONResponse({"fault": "that is not the code, or too many were wrong; wait a minute"}, 403)
        answer = Response(status_code=204)
        answer.set_cookie(COOKIE, token, httponly=True, samesite="strict", path="/")
        return answer

    @contextlib.asynccontextmanager
    async def lifespan(app: Starlette) -> AsyncIterator[None]:
        stand.hub.open()
        between.begin()
        if stand.chooses:
            threading.Thread(target=stand.choices, daemon=True).start()  # read before anybody asks
        try:
            yield
        finally:
            await run_in_threadpool(stand.close)
            draughtsman.end()
            between.end()

    return Starlette(
        routes=[
            Route("/", index),
            Route("/events", events),
            Route("/clock", clock),
            Route("/charts", charts),
            Route("/draw/{drawing:str}", drawing),
            Route("/sounds", sounds),
            Route("/sounds/{voice:str}/{midi:int}", sound),
            Route("/wish", wish, methods=["POST"]),
            Route("/demo", demo, methods=["POST"]),
            Route("/stop", stop, methods=["POST"]),
            Route("/code", code_page),
            Route("/code", enter, methods=["POST"]),
            *between.routes(),
            Mount("/static", StaticFiles(directory=STATIC)),
        ],
        exception_handlers={
            CompanionError: _fault,
            msgspec.MsgspecError: _not_understood,
            ClientDisconnect: _too_large,
        },
        lifespan=lifespan,
    )


async def _read(request: Request, kind: type[Any]) -> Any:
    return msgspec.json.decode(await request.body(), type=kind)


async def _fault(request: Request, error: Exception) -> Response:
    return JSONResponse({"fault": str(error)}, 400)


async def _not_understood(request: Request, error: Exception) -> Response:
    return JSONResponse({"fault": f"not understood: {error}"}, 422)


async def _too_large(request: Request, error: Exception) -> Response:
    return Response(status_code=413)
