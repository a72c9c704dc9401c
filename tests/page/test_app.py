"""The routes: what is asked by name is given, and nothing outside the page's own folder and the charts."""

from __future__ import annotations

import io
import wave
from http.cookies import SimpleCookie
from pathlib import Path
from typing import Any

import httpx
import pytest

from companion.page import app as routes
from companion.page.app import application
from companion.page.draughtsman import Drawing, View
from companion.page.guard import COOKIE, Code
from companion.page.how import How
from companion.page.hub import Hub
from companion.page.outgoing import OnTheStand
from companion.page.stand import MusicStand
from tests.page.conftest import finished


class AtOnce:
    """Draws in this process."""

    def draw(self, drawing: Drawing, what: OnTheStand, view: View) -> bytes:
        return f'["{drawing}", {view.chorus}]'.encode()

    def end(self) -> None:
        pass


@pytest.fixture
def stand() -> MusicStand:
    return MusicStand(Hub())


def ask(stand: MusicStand, method: str, path: str, *, code: Code | None = None, **more: Any) -> httpx.Response:
    async def go() -> httpx.Response:
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(routes, "Draughtsman", AtOnce)
            transport = httpx.ASGITransport(application(stand, code))
            async with httpx.AsyncClient(transport=transport, base_url="http://127.0.0.1") as opened:
                return await opened.request(method, path, **more)

    return finished(go())


def test_the_page_and_its_modules_are_served_with_their_types(stand: MusicStand) -> None:
    assert "text/html" in ask(stand, "GET", "/").headers["content-type"]
    assert "javascript" in ask(stand, "GET", "/static/main.js").headers["content-type"]
    assert "text/css" in ask(stand, "GET", "/static/page.css").headers["content-type"]


@pytest.mark.parametrize(
    "path", ["/static/../app.py", "/static/%2e%2e/app.py", "/static//etc/passwd", "/static/", "/app.py"]
)
def test_no_file_outside_the_pages_own_is_served(path: str, stand: MusicStand) -> None:
    assert ask(stand, "GET", path).status_code in (404, 405)


@pytest.mark.parametrize("name", ["../../secret.toml", "/etc/passwd", "..", "", "nothing-of-that-name"])
def test_a_chart_is_named_and_never_a_path(name: str, stand: MusicStand) -> None:
    got = ask(stand, "POST", "/demo", json={"chart": name})
    assert got.status_code == 400 and "there is no chart" in got.json()["fault"]


def test_charts_are_told_with_what_one_chooses_them_by(stand: MusicStand) -> None:
    charts = {chart["name"]: chart for chart in ask(stand, "GET", "/charts").json()["charts"]}
    ferry = charts["ferry-without-lights"]
    assert (ferry["title"], ferry["key"], ferry["metre"], ferry["tempo"]) == (
        "Ferry Without Lights",
        "G minor",
        "4/4",
        132,
    )
    assert str(Path.home()) not in str(charts)


def test_what_is_drawn_is_of_the_tune_that_the_page_means(stand: MusicStand, ferry_on_the_stand: OnTheStand) -> None:
    assert ask(stand, "GET", "/draw/form?number=1").status_code == 400
    stand.put(ferry_on_the_stand)
    assert ask(stand, "GET", "/draw/systems?number=1&chorus=2&width=80").json() == ["systems", 2]
    assert ask(stand, "GET", "/draw/systems?number=2").status_code == 409
    assert ask(stand, "GET", "/draw/anything?number=1").status_code == 422
    assert ask(stand, "GET", "/draw/systems?number=many").status_code == 422


@pytest.mark.parametrize("what", [{}, {"wish": "louder"}, [], "stop"])
def test_a_wish_that_there_is_not_is_answered_with_what_is_wrong(what: Any, stand: MusicStand) -> None:
    got = ask(stand, "POST", "/wish", json=what)
    assert got.status_code == 422 and got.json()["fault"]


def test_a_note_is_a_wav_and_there_are_no_others(stand: MusicStand) -> None:
    got = ask(stand, "GET", "/sounds/piano/60")
    with wave.open(io.BytesIO(got.content)) as sound:
        assert sound.getnframes() > sound.getframerate()
    assert ask(stand, "GET", "/sounds/piano/61").status_code == 404
    assert ask(stand, "GET", "/sounds/trombone/60").status_code == 404
    assert ask(stand, "GET", "/sounds/piano/..%2f").status_code == 404


def test_what_is_asked_without_a_word_back_is_answered_with_none(stand: MusicStand) -> None:
    assert ask(stand, "POST", "/stop").status_code == 204
    clock = ask(stand, "GET", "/clock").json()["now"]
    assert isinstance(clock, float) and ask(stand, "GET", "/clock").json()["now"] >= clock
    assert ask(stand, "GET", "/sounds").json()["bass"][0] == 27


def test_a_demo_is_begun_as_it_was_asked_for(stand: MusicStand, monkeypatch: pytest.MonkeyPatch) -> None:
    begun: list[Any] = []
    monkeypatch.setattr(stand, "demo", lambda *asked: begun.append(asked))
    got = ask(stand, "POST", "/demo", json={"chart": "ferry-without-lights", "you": ["bass"], "how": {"seed": 3}})
    assert (got.status_code, got.content) == (204, b"")
    assert begun == [("ferry-without-lights", ("bass",), How(seed=3))]


def test_a_wish_goes_to_the_player_with_its_value() -> None:
    asked: list[Any] = []
    beside = MusicStand(Hub(), wish=lambda *words: asked.append(words))
    got = ask(beside, "POST", "/wish", json={"wish": "treatment", "value": ["B", "pedal"]})
    assert (got.status_code, asked) == (204, [("treatment", ("B", "pedal"))])


def test_the_code_is_asked_for_only_where_the_page_is_shared(stand: MusicStand) -> None:
    assert ask(stand, "GET", "/code").status_code == 307
    assert ask(stand, "POST", "/code", json={"code": "1"}).status_code == 403
    code = Code()
    assert "text/html" in ask(stand, "GET", "/code", code=code).headers["content-type"]
    refused = ask(stand, "POST", "/code", code=code, json={"code": code.code[1:]})
    assert refused.status_code == 403 and "that is not the code" in refused.json()["fault"]
    let_in = ask(stand, "POST", "/code", code=code, json={"code": code.code})
    assert let_in.status_code == 204
    cookie = SimpleCookie(let_in.headers["set-cookie"])[COOKIE]
    assert code.knows(cookie.value) and cookie["httponly"] and cookie["samesite"] == "strict"
