"""The routes between takes: names and no paths, limits, and downloads that are called after the tune."""

from __future__ import annotations

import asyncio
import io
from pathlib import Path
from typing import Any

import httpx
import msgspec
import pytest

from companion.errors import UseError
from companion.page import app as routes
from companion.page import between
from companion.page.answering import AnswerMade, answer_each
from companion.page.app import application
from companion.page.between import LIMITS
from companion.page.guard import LONGEST_BODY, Guard
from companion.page.how import AS_WRITTEN
from companion.page.hub import Hub
from companion.page.outgoing import to_line
from companion.page.stand import MusicStand
from companion.page.takes import TakeAsked
from companion.page.workroom import do_task, task
from companion.resources import DATA_VARIABLE

HOST = "127.0.0.1:7000"
F = {"chart": "ferry-without-lights"}


class AtOnce:
    """Does the work in this process."""

    def do(self, name: str, words: msgspec.Struct) -> bytes:
        out = io.BytesIO()
        answer_each(io.BytesIO(to_line(task(name, words))), out, do_task)
        done = msgspec.json.decode(out.getvalue(), type=AnswerMade)
        if done.fault:
            raise UseError(done.fault)
        return bytes(done.value)

    def end(self) -> None:
        pass


@pytest.fixture(autouse=True)
def data(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv(DATA_VARIABLE, str(tmp_path / "data"))
    monkeypatch.setattr(between, "Workroom", AtOnce)
    monkeypatch.setattr(routes, "Draughtsman", AtOnce)
    return tmp_path / "data"


def ask(method: str, path: str, **more: Any) -> httpx.Response:
    async def go() -> httpx.Response:
        app = Guard(application(MusicStand(Hub())), [HOST], None, LIMITS)
        headers = {"origin": f"http://{HOST}"} | more.pop("headers", {})
        transport = httpx.ASGITransport(app, client=("127.0.0.1", 1))
        async with httpx.AsyncClient(transport=transport, base_url=f"http://{HOST}") as opened:
            return await opened.request(method, path, headers=headers, **more)

    return asyncio.run(go())


CHANGING = ("/tune/hear", "/tune/explain", "/tune/keep", "/tune/check", "/tune/save", "/play", "/import", "/piano")


@pytest.mark.parametrize("name", ["../../secret.toml", "/etc/passwd", "..", "", "nothing-of-that-name"])
def test_a_chart_is_named_and_never_a_path(name: str) -> None:
    paper = {"chart": name, "what": "lead", "kind": "mid"}
    asked = [ask("GET", path, params=paper) for path in ("/tune", "/tune/text", "/tune/paper")]
    changing = ("/tune/hear", "/tune/keep", "/tune/save", "/play")
    asked += [ask("POST", path, json={"chart": name, "text": ""}) for path in changing]
    assert {(one.status_code, "there is no chart" in one.json()["fault"]) for one in asked} == {(400, True)}


@pytest.mark.parametrize("path", [*CHANGING, "/take/delete"])
def test_only_the_page_itself_may_change_anything(path: str) -> None:
    assert ask("POST", path, json=F, headers={"origin": "http://elsewhere.example"}).status_code == 403
    assert ask("POST", path, json=F, headers={"host": "elsewhere.example"}).status_code == 421


def test_what_isnt_understood_is_said() -> None:
    assert ask("POST", "/tune/hear", json={"chart": 3}).status_code == 422
    assert ask("POST", "/tune/hear", json={**F, "how": {"time": "whenever"}}).status_code == 422
    assert ask("GET", "/tune/paper", params={**F, "what": "lead", "kind": "exe"}).status_code == 422
    assert ask("POST", "/tune/hear", content=b"\xff").status_code == 422


def test_a_file_may_be_as_large_as_a_chart_and_no_larger() -> None:
    assert ask("POST", "/import?name=a.mid", content=b"\0" * (LONGEST_BODY + 1)).status_code == 400
    assert ask("POST", "/import?name=a.mid", content=b"\0" * (LIMITS["/import"] + 1)).status_code == 413
    assert ask("POST", "/tune/hear", content=b"\0" * (LONGEST_BODY + 1)).status_code == 413


def test_what_is_longer_than_it_said_is_answered_as_too_large() -> None:
    async def in_halves() -> Any:
        for _ in range(2):
            yield b" " * LONGEST_BODY

    assert ask("POST", "/tune/hear", content=in_halves()).status_code == 413


def test_a_download_is_called_after_its_tune() -> None:
    got = ask("GET", "/tune/paper", params={**F, "what": "left", "kind": "mid", "how": '{"seed": 2}'})
    assert got.headers["content-type"] == "audio/midi" and got.content.startswith(b"MThd")
    assert got.headers["content-disposition"] == 'attachment; filename="ferry-without-lights-left.mid"'
    assert "default-src 'none'" in got.headers["content-security-policy"]


def test_a_bar_is_explained_and_kept(data: Path) -> None:
    told = ask("POST", "/tune/explain", json={**F, "bars": [17, 17]}).json()
    assert told["bars"][0]["bar"] == 17
    assert ask("POST", "/tune/keep", json={**F, "bars": [17, 17]}).json()["name"] == "ferry-without-lights"
    assert (data / "charts" / "ferry-without-lights.toml").exists()


def test_where_a_player_chose_the_tune_the_page_begins_no_other() -> None:
    with pytest.raises(UseError, match="companion stand"):
        MusicStand(Hub(), wish=lambda name: None).piano(F["chart"], ("melody",), AS_WRITTEN, None)


def test_a_text_may_be_as_long_as_a_chart_whose_signs_are_written_out() -> None:
    assert {path: LIMITS[path] for path in ("/tune/check", "/tune/save")} == dict.fromkeys(
        ("/tune/check", "/tune/save"), 4 * 1_048_576
    )


def test_where_no_bar_is_named_the_first_is_explained() -> None:
    assert [bar["bar"] for bar in ask("POST", "/tune/explain", json=F).json()["bars"]] == [1]


def test_the_pictures_of_a_take_are_numbered_from_one(monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[Any] = []

    def do(self: AtOnce, name: str, words: msgspec.Struct) -> bytes:
        asked.append((name, words))
        places: list[dict[str, float]] = [{"bar": 1.0}]
        return msgspec.json.encode({"pictures": [{"svg": f"<svg>{n}</svg>", "places": places} for n in (1, 2)]})

    monkeypatch.setattr(AtOnce, "do", do)
    take = {"take": "2026-01-01-1000-four-steps"}
    assert ask("GET", "/take/pictures", params=take).json() == {"pictures": [[{"bar": 1.0}]] * 2}
    assert ask("GET", "/take/pictures", params={**take, "narrow": "1"}).status_code == 200
    assert asked == [("pictures", TakeAsked(take["take"])), ("pictures", TakeAsked(take["take"], narrow=True))]
    for number, status in (("0", 404), ("1", 200), ("2", 200), ("3", 404), ("", 404), ("-1", 404), ("one", 404)):
        got = ask("GET", "/take/picture", params={**take, "number": number})
        assert got.status_code == status
        if status == 200:
            assert (got.text, got.headers["content-type"]) == (f"<svg>{number}</svg>", "image/svg+xml")


def test_what_is_pressed_at_the_piano_is_told_to_no_other_site() -> None:
    for site in ("cross-site", "same-site", "none"):
        assert ask("GET", "/piano/heard", headers={"sec-fetch-site": site}).status_code == 403
