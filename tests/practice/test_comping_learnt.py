"""What becomes a habit: how often, in how many takes, how lately; and what is kept of it, through damage and loss."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from companion.practice.chords_used import TakeUses
from companion.practice.comping_learnt import FILE, is_wished, style_of, style_of_player
from companion.preferences import preferences
from companion.preferences.like_you import LikeYouPreferences
from companion.resources import DATA_VARIABLE
from tests.practice.compers import comped, keep
from tests.practice.test_chords_used import THIRD, chart

RULES = preferences(LikeYouPreferences).learning
FROM_THIRD, FROM_SEVENTH = ("m7", "b3 5 b7 9", 0), ("m7", "b7 9 b3 5", 0)
OFF_BEAT = ("4/4", "swing", (0.5, 2.5))


def take(third: int = 0, seventh: int = 0, rhythm: int = 0) -> TakeUses:
    shapes = {FROM_THIRD: [64] * third, FROM_SEVENTH: [60] * seventh}
    return TakeUses(
        {key: tops for key, tops in shapes.items() if tops}, {OFF_BEAT: [(1.0, 0.5)] * rhythm} if rhythm else {}
    )


def test_a_shape_is_a_habit_from_three_uses_in_two_takes() -> None:
    assert style_of([take(2), take(1)], RULES).shapes
    assert not style_of([take(9)], RULES).shapes  # one take
    assert not style_of([take(1), take(1)], RULES).shapes  # two uses
    assert not style_of([], RULES).shapes


def test_a_rhythm_is_a_habit_by_the_same_rule() -> None:
    (one,) = style_of([take(rhythm=2), take(rhythm=2)], RULES).rhythms
    assert (one.places, one.lengths, one.times, one.takes) == ((0.5, 2.5), (1.0, 0.5), 4, 2)
    assert not style_of([take(rhythm=9)], RULES).rhythms


def test_the_shape_used_most_is_worth_most_and_the_more_is_known_the_more() -> None:
    few, many = (style_of([take(3 * n, n)] * 2, RULES).shapes for n in (2, 40))
    assert [shape.degrees for shape in many] == ["b3 5 b7 9", "b7 9 b3 5"]
    assert many[1].worth == pytest.approx(many[0].worth / 3, abs=0.01)
    assert few[0].worth < many[0].worth < 1


def test_a_rare_shape_is_no_habit_however_long_one_plays() -> None:
    style = style_of([take(50, 2)] * 3, RULES)
    assert [shape.degrees for shape in style.shapes] == ["b3 5 b7 9"]


def test_later_takes_count_more() -> None:
    """The player has gone over from the third to the seventh."""
    style = style_of([take(seventh=10)] * 8 + [take(third=10)] * 8, RULES)
    assert [shape.degrees for shape in style.shapes] == ["b7 9 b3 5", "b3 5 b7 9"]
    assert style.shapes[1].worth == pytest.approx(style.shapes[0].worth / 2, abs=0.02)


def test_outermost_top_notes_are_left_out_of_the_range() -> None:
    tops = [40, *[62] * 10, *[69] * 9, 90]
    (shape,) = style_of([TakeUses({FROM_THIRD: tops}, {}), take(1)], RULES).shapes
    assert (shape.low, shape.high) == (62, 69)


# The folder for user data


@pytest.fixture
def known(tmp_path: Path) -> Callable[[dict[str, object]], Path]:
    """A folder in which takes were looked through already; what each showed."""

    def write(takes: dict[str, object], also: str = "") -> Path:
        for name in takes:
            (tmp_path / "takes" / name).mkdir(parents=True)
        (tmp_path / FILE).write_text(also or json.dumps({"format": 1, "takes": takes}), encoding="utf-8")
        return tmp_path

    return write


ROWS = {"shapes": [[*FROM_THIRD, [64, 65]]], "rhythms": [[*OFF_BEAT, [[1.0, 1.0], [1.0, 0.5]]]]}


def test_what_was_looked_through_is_not_looked_through_again(known) -> None:
    style = style_of_player(known({"2026-11-01-a": ROWS, "2026-11-02-a": ROWS}))
    assert style.takes == 2 and style.shapes[0].times == 4 and style.rhythms[0].times == 4


def test_a_take_whose_folder_is_gone_tells_nothing_any_more(known) -> None:
    data = known({"2026-11-01-a": ROWS, "2026-11-02-a": ROWS})
    (data / "takes" / "2026-11-02-a").rmdir()
    assert style_of_player(data).takes == 1
    assert "2026-11-02-a" not in (data / FILE).read_text(encoding="utf-8")


def test_without_takes_there_is_no_style_and_nothing_is_written(tmp_path: Path) -> None:
    style = style_of_player(tmp_path / "nowhere")
    assert (style.shapes, style.rhythms, style.takes) == ((), (), 0)
    assert not (tmp_path / "nowhere").exists()


@pytest.mark.parametrize(
    "text",
    [
        "",
        "[]",
        '{"format": 9, "takes": {}}',
        '{"format": 1, "takes": [1]}',
        '{"format": 1, "takes": {"2026-11-01-a": {"shapes": [["m7", "b3 x", 0, [64]]], "rhythms": []}}}',
        '{"format": 1, "takes": {"2026-11-01-a": {"shapes": [["m7", "b3 5", 0, []]], "rhythms": []}}}',
        '{"format": 1, "takes": {"2026-11-01-a": {"shapes": [["m7", "b3 5", 0, [640]]], "rhythms": []}}}',
        '{"format": 1, "takes": {"2026-11-01-a": {"shapes": [], "rhythms": [["4/4", "swing", [2, 1], [[1, 1]]]]}}}',
        "[" * 100_000,
    ],
)
def test_a_damaged_file_is_begun_anew(known, text: str) -> None:
    data = known({"2026-11-01-a": ROWS}, text or " ")
    assert style_of_player(data).takes == 0  # the folder holds no take, so nothing can be made of it again


def test_over_a_damaged_file_what_takes_show_is_written_anew(known) -> None:
    data = known({}, "{")
    tune = chart(bars="Dm7 | G7")
    keep(data, "2026-11-02-200000-row", tune, comped(tune, THIRD))
    assert style_of_player(data).takes == 1
    assert json.loads((data / FILE).read_text(encoding="utf-8"))["format"] == 1


def test_takes_are_looked_through_and_what_is_damaged_is_left_out(tmp_path: Path) -> None:
    tune = chart(bars="Dm7 | G7 | Cmaj7 | Am7")
    for day in (1, 2):
        keep(tmp_path, f"2026-11-0{day}-200000-row", tune, comped(tune, THIRD, seed=day))
    damaged = tmp_path / "takes" / "2026-11-03-200000-row"
    damaged.mkdir()
    (damaged / "take.json").write_text("{", encoding="utf-8")
    style = style_of_player(tmp_path)
    assert style.takes == 2
    assert {(shape.quality, shape.degrees) for shape in style.shapes} == {(kind, row) for kind, (row,) in THIRD.items()}
    kept = json.loads((tmp_path / FILE).read_text(encoding="utf-8"))["takes"]
    assert sorted(kept) == ["2026-11-01-200000-row", "2026-11-02-200000-row"]  # a damaged one may be mended yet
    assert style_of_player(tmp_path) == style


# Numbers


def test_what_a_habit_is_worth() -> None:
    """Six and two uses in each of two takes, the earlier an eighth of a halving older: 8 · (1 + 0.917) = 15.34 chords,
    and four that count for none."""
    most, less = style_of([take(6, 2), take(6, 2)], RULES).shapes
    whole = 8 * (1 + 0.5 ** (1 / 8))
    assert (most.worth, less.worth) == pytest.approx((whole / (whole + 4), whole / (whole + 4) / 3), abs=1e-4)
    assert (most.times, most.takes, less.times) == (12, 2, 4)


@pytest.mark.parametrize(("tops", "low", "high"), [(9, 0, 8), (10, 1, 8), (19, 1, 17), (20, 2, 17), (99, 9, 89)])
def test_a_tenth_of_the_top_notes_at_each_end_does_not_count(tops: int, low: int, high: int) -> None:
    uses = [TakeUses({FROM_THIRD: [20 + n for n in range(tops)][::-1]}, {})]
    (shape,) = style_of(uses, replace(RULES, in_takes=1)).shapes
    assert (shape.low - 20, shape.high - 20) == (low, high)


def test_of_rhythms_in_one_metre_the_one_used_most_is_worth_most() -> None:
    """Six and three of one bar, of 13 that are counted."""
    bars = {OFF_BEAT: [(1.0, 0.5)] * 6, ("4/4", "swing", (0.0, 1.5)): [(1.0, 1.0)] * 3}
    most, less = style_of([TakeUses({}, bars)], replace(RULES, in_takes=1)).rhythms
    assert (most.places, less.places) == ((0.5, 2.5), (0.0, 1.5))
    assert (most.worth, less.worth) == pytest.approx((9 / 13, 9 / 13 / 2), abs=1e-4)


@pytest.mark.parametrize(("uses", "of", "habit"), [(8, 100, True), (8, 101, False)])
def test_what_makes_up_eight_in_a_hundred_is_a_habit(uses: int, of: int, habit: bool) -> None:
    style = style_of([take(of - uses, uses)], replace(RULES, in_takes=1))
    assert (len(style.shapes) == 2) is habit


def test_shapes_that_are_used_as_much_come_by_their_names() -> None:
    assert [shape.degrees for shape in style_of([take(4, 4)] * 2, RULES).shapes] == ["b3 5 b7 9", "b7 9 b3 5"]


def test_a_kind_of_chord_has_eight_shapes_at_most() -> None:
    rows = [f"{a} {b} {c}" for a, b, c in zip("135135135", ("b3", "5", "b7") * 3, ("9", "11", "13") * 3, strict=True)]
    shapes = {("m7", row, left): [60] * 5 for left, row in zip((0, 0, 0, 1, 1, 1, 2, 2, 2), rows, strict=True)}
    rules = replace(RULES, in_takes=1, least_share=0.01)
    assert len(shapes) == 9 and len(style_of([TakeUses(shapes, {})], rules).shapes) == 8


@pytest.mark.parametrize(
    ("lengths", "typical"),
    [([0.5, 1.0, 2.0], 1.0), ([1.0, 1.5], 1.0), ([1.5, 2.0, 2.0, 4.0], 2.0), ([0.2, 0.2], 0.5), ([3.4, 3.6], 3.5)],
)
def test_a_rhythms_chords_last_as_long_as_most_to_the_half(lengths: list[float], typical: float) -> None:
    uses = [TakeUses({}, {("4/4", "swing", (0.0,)): [(one,) for one in lengths] * 2})]
    (rhythm,) = style_of(uses, replace(RULES, in_takes=1)).rhythms
    assert rhythm.lengths == (typical,)


def test_takes_are_told_of_one_by_one(known) -> None:
    told: list[float] = []
    style_of_player(known({f"2026-11-0{n}-a": ROWS for n in range(1, 5)}), progress=told.append)
    assert told == [0.0, 0.25, 0.5, 0.75]


def test_unless_it_is_said_the_preferences_say_whether_chords_are_like_the_players(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert [is_wished(one) for one in (None, True, False)] == [False, True, False]
    monkeypatch.setenv(DATA_VARIABLE, str(tmp_path))
    (tmp_path / "configs").mkdir()
    (tmp_path / "configs" / "like-you.toml").write_text("[wish]\nalways = true\n", encoding="utf-8")
    assert [is_wished(one) for one in (None, True, False)] == [True, True, False]
