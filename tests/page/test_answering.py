"""A process that answers: one that died, or stands still, costs no more than the question that was under way."""

from __future__ import annotations

import io
import threading
import time
from collections.abc import Iterator
from typing import Any

import msgspec
import pytest

from companion.errors import UseError
from companion.page.answering import AnsweringProcess, AnswerMade, answer_each
from companion.page.choosing import TuneAsked
from companion.page.workroom import MODULE, task
from companion.resources import chart_path

pytestmark = pytest.mark.real_time
FERRY = task("tune", TuneAsked(str(chart_path("ferry-without-lights"))))
BROKEN = UseError("it broke")


@pytest.fixture
def process() -> Iterator[AnsweringProcess]:
    one = AnsweringProcess(MODULE)
    yield one
    one.end()


def test_one_that_was_killed_is_there_again_for_the_next_question(process: AnsweringProcess) -> None:
    first = process.ask(FERRY, BROKEN)
    assert process._process is not None
    process._process.kill()
    process._process.wait()
    assert process.ask(FERRY, BROKEN) == first


def test_to_end_it_waits_for_no_answer(process: AnsweringProcess) -> None:
    found: list[str] = []

    def ask() -> None:
        try:
            process.ask(FERRY, BROKEN)
        except UseError as error:
            found.append(str(error))

    asking = threading.Thread(target=ask)
    asking.start()
    time.sleep(0.1)  # it is still starting
    process.end()
    asking.join(5.0)
    assert found == ["it broke"]


def test_what_is_wrong_with_a_question_is_its_answer_and_the_next_is_answered() -> None:
    def answer(line: bytes) -> Any:
        if line == b"bad\n":
            raise UseError("that is wrong")
        return {"said": line.decode().strip()}

    out = io.BytesIO()
    answer_each(io.BytesIO(b"bad\ngood\n"), out, answer)
    first, second = (msgspec.json.decode(line, type=AnswerMade) for line in out.getvalue().splitlines())
    assert first.fault == "that is wrong" and second == AnswerMade(msgspec.Raw(b'{"said":"good"}'))
