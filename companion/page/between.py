"""The routes of the page between takes: choosing, importing, explaining, editing, printing, takes, the day, the piano.

Each is a thin function: it reads what was asked, has it done in the workroom, and answers in JSON. Charts go by the
names that the stand knows, takes by their folders' names: a browser names no paths.
"""

from __future__ import annotations

from typing import Any, TypeVar

import msgspec
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import JSONResponse, Response, StreamingResponse
from starlette.routing import Route

from companion.messages import Part
from companion.page.choosing import HearAsked, TuneAsked
from companion.page.editing import CheckAsked, SaveAsked, TextAsked
from companion.page.explaining import ExplainAsked, KeepAsked
from companion.page.how import AS_WRITTEN, DrillAsked, How
from companion.page.importing import LARGEST, ImportAsked
from companion.page.instrument import PianoAsked, TeachAsked
from companion.page.printing import TYPES, FileKind, Printable, PrintAsked
from companion.page.stand import MusicStand
from companion.page.takes import Nothing, TakeAsked
from companion.page.workroom import Workroom

T = TypeVar("T")

LONGEST_TEXT = 4 * 1024 * 1024
"""Bytes of a request with a chart's text, each sign of which may be written as six."""
LIMITS = {"/import": LARGEST, "/tune/check": LONGEST_TEXT, "/tune/save": LONGEST_TEXT}
"""Bytes that a request may hold, where that isn't the guard's own limit."""
EVERYTHING: tuple[Part, ...] = ("melody", "chords", "bass")


class OfTune(msgspec.Struct, frozen=True):
    """What is asked about a tune."""

    chart: str
    how: How = AS_WRITTEN
    you: tuple[Part, ...] = ()
    parts: tuple[Part, ...] = EVERYTHING
    bars: tuple[int, int] | None = None
    free: bool = False
    drill: DrillAsked | None = None


class OfText(msgspec.Struct, frozen=True):
    """A chart's text, as it is being edited."""

    chart: str
    text: str
    stamp: str = ""


class Between:
    """The routes for a stand, and the workroom behind them."""

    def __init__(self, stand: MusicStand) -> None:
        self._stand, self._workroom = stand, Workroom()

    def begin(self) -> None:
        """Have the workroom ready before anybody asks."""
        if self._stand.chooses:
            self._workroom.start()

    def end(self) -> None:
        """End the workroom."""
        self._workroom.end()

    def routes(self) -> list[Route]:
        """What is served."""
        return [
            Route("/tune", self._tune),
            Route("/likeness", self._likeness),
            Route("/tune/hear", self._hear, methods=["POST"]),
            Route("/tune/explain", self._explain, methods=["POST"]),
            Route("/tune/keep", self._keep, methods=["POST"]),
            Route("/tune/text", self._text),
            Route("/tune/check", self._check, methods=["POST"]),
            Route("/tune/save", self._save, methods=["POST"]),
            Route("/tune/paper", self._paper),
            Route("/import", self._import, methods=["POST"]),
            Route("/takes", self._takes),
            Route("/take/review", self._review),
            Route("/take/pictures", self._pictures),
            Route("/take/picture", self._picture),
            Route("/take/notes", self._take_notes),
            Route("/take/delete", self._delete, methods=["POST"]),
            Route("/today", self._today),
            Route("/piano", self._piano),
            Route("/piano", self._set_piano, methods=["POST"]),
            Route("/piano/heard", self._heard),
            Route("/piano/teach", self._teach, methods=["POST"]),
            Route("/play", self._play, methods=["POST"]),
        ]

    async def _done(self, task: str, words: msgspec.Struct) -> Response:
        return Response(await run_in_threadpool(self._workroom.do, task, words), media_type="application/json")

    async def _path(self, chart: str) -> str:
        return str(await run_in_threadpool(self._stand.path_of, chart))

    # A tune

    async def _tune(self, request: Request) -> Response:
        return await self._done("tune", TuneAsked(await self._path(_word(request, "chart"))))

    async def _likeness(self, request: Request) -> Response:
        return await self._done("likeness", Nothing())

    async def _hear(self, request: Request) -> Response:
        asked = await _read(request, OfTune)
        return await self._done("hear", HearAsked(await self._path(asked.chart), asked.how, asked.parts))

    async def _explain(self, request: Request) -> Response:
        asked = await _read(request, OfTune)
        first, last = asked.bars or (1, 1)
        return await self._done("explain", ExplainAsked(await self._path(asked.chart), asked.how, first, last))

    async def _keep(self, request: Request) -> Response:
        asked = await _read(request, OfTune)
        return await self._done("keep", KeepAsked(await self._path(asked.chart), asked.how, asked.bars, asked.free))

    async def _text(self, request: Request) -> Response:
        return await self._done("text", TextAsked(await self._path(_word(request, "chart"))))

    async def _check(self, request: Request) -> Response:
        return await self._done("check", CheckAsked((await _read(request, OfText)).text))

    async def _save(self, request: Request) -> Response:
        asked = await _read(request, OfText)
        return await self._done("save", SaveAsked(await self._path(asked.chart), asked.text, asked.stamp))

    async def _paper(self, request: Request) -> Response:
        """A download: a link leads here, so everything stands in the query."""
        path = await self._path(_word(request, "chart"))
        what = msgspec.convert(_word(request, "what"), Printable)
        kind = msgspec.convert(_word(request, "kind"), FileKind)
        how = msgspec.json.decode(request.query_params.get("how", "{}"), type=How)
        made = await run_in_threadpool(self._workroom.do, "print", PrintAsked(path, how, what, kind))
        file = msgspec.json.decode(made, type=_File)
        headers = {"content-disposition": f'attachment; filename="{file.name}"'}
        return Response(file.data, media_type=TYPES[kind], headers=headers)

    async def _import(self, request: Request) -> Response:
        return await self._done("import", ImportAsked(_word(request, "name"), await request.body()))

    # Takes, and the day

    async def _takes(self, request: Request) -> Response:
        return await self._done("takes", Nothing())

    async def _review(self, request: Request) -> Response:
        return await self._done("review", TakeAsked(_word(request, "take")))

    async def _pictures(self, request: Request) -> Response:
        """The places in the review's pictures; each is loaded as an image, in which nothing can run."""
        return JSONResponse({"pictures": [one.places for one in await self._drawn(request)]})

    async def _picture(self, request: Request) -> Response:
        drawn, number = await self._drawn(request), _word(request, "number")
        if not number.isdecimal() or not 1 <= int(number) <= len(drawn):
            return JSONResponse({"fault": "there is no such picture"}, 404)
        return Response(drawn[int(number) - 1].svg, media_type="image/svg+xml")

    async def _drawn(self, request: Request) -> tuple[_Picture, ...]:
        asked = TakeAsked(_word(request, "take"), narrow=bool(_word(request, "narrow")))
        made = await run_in_threadpool(self._workroom.do, "pictures", asked)
        return msgspec.json.decode(made, type=_Pictures).pictures

    async def _take_notes(self, request: Request) -> Response:
        return await self._done("take", TakeAsked(_word(request, "take")))

    async def _delete(self, request: Request) -> Response:
        return await self._done("delete", await _read(request, TakeAsked))

    async def _today(self, request: Request) -> Response:
        return await self._done("today", Nothing())

    # The piano

    async def _piano(self, request: Request) -> Response:
        return await self._done("piano", Nothing())

    async def _set_piano(self, request: Request) -> Response:
        return await self._done("set-piano", await _read(request, PianoAsked))

    async def _teach(self, request: Request) -> Response:
        return await self._done("teach", await _read(request, TeachAsked))

    async def _heard(self, request: Request) -> Response:
        """What is pressed at any keyboard, told as it comes. No other site can have the ports opened."""
        if request.headers.get("sec-fetch-site", "same-origin") != "same-origin":
            return JSONResponse({"fault": "only the page itself may ask for that"}, 403)
        return StreamingResponse(self._stand.listen(), media_type="text/event-stream")

    async def _play(self, request: Request) -> Response:
        asked = await _read(request, OfTune)
        await run_in_threadpool(self._stand.piano, asked.chart, asked.you, asked.how, asked.drill)
        return JSONResponse({})


class _Picture(msgspec.Struct, frozen=True):
    svg: str
    places: list[dict[str, float]]


class _Pictures(msgspec.Struct, frozen=True):
    pictures: tuple[_Picture, ...]


class _File(msgspec.Struct, frozen=True):
    name: str
    data: bytes


def _word(request: Request, name: str) -> str:
    return request.query_params.get(name, "")


async def _read(request: Request, kind: type[T]) -> Any:
    return msgspec.json.decode(await request.body(), type=kind)
