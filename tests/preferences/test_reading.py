"""The player's values over ours, and whatever is wrong in one line."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from copy import deepcopy
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Annotated, Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.errors import ConfigError
from companion.preferences import preferences
from companion.preferences.every import EVERY
from companion.preferences.reading import file_of, forget, laid_over, told
from companion.preferences.structure import Fault, Others, structured
from companion.preferences.units import Count, Share
from companion.resources import read_toml_file, shipped_folder

Write = Callable[[str, str], Path]


@dataclass(frozen=True)
class Way:
    share: Share


@dataclass(frozen=True)
class Ways:
    ways: tuple[Way, ...]


@dataclass(frozen=True)
class Rules:
    most: Count


@dataclass(frozen=True, eq=False)
class Sets:
    placement: Rules
    sets: Annotated[Mapping[str, tuple[Count, ...]], Others()]


@pytest.fixture
def own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Write:
    """Writes a file of the player's own."""
    monkeypatch.setenv("COMPANION_DATA", str(tmp_path))
    (tmp_path / "configs").mkdir()

    def write(name: str, text: str) -> Path:
        path = tmp_path / "configs" / f"{name}.toml"
        path.write_text(text, encoding="utf-8")
        forget()
        return path

    return write


def fault(kind: type[Any]) -> str:
    with pytest.raises(ConfigError) as caught:
        preferences(kind)
    text = str(caught.value)
    assert "\n" not in text
    return text


# The player's file over ours


def test_a_touch_that_says_only_how_loud_the_bass_is_changes_nothing_else(own: Write) -> None:
    from companion.preferences.touch import TouchPreferences

    ours = preferences(TouchPreferences).parts
    own("touch", "[bass]\nlevel = 90\n")
    touch = preferences(TouchPreferences).parts
    assert touch["bass"].level == 90
    assert (touch["bass"].follows, touch["bass"].length) == (ours["bass"].follows, ours["bass"].length)
    assert all(touch[part] == ours[part] for part in ours if part != "bass")


def test_a_ritardando_of_the_players_own_keeps_the_bars_of_ours(own: Write) -> None:
    from companion.preferences.order import OrderPreferences

    own("order", "[ritardando]\nto = 0.8\n")
    order = preferences(OrderPreferences)
    assert order.ritardando.to == 0.8 and order.ritardando.bars.of("tag") == 2


def test_a_player_of_ones_own_joins_the_shipped_ones_and_one_of_theirs_is_changed_value_by_value(own: Write) -> None:
    from companion.preferences.players import PlayerPreferences

    ours = preferences(PlayerPreferences).player
    own("players", "[player.aunt]\nwrong = 0.2\n[player.evening]\nstops = 0\n")
    theirs = preferences(PlayerPreferences).player
    assert set(theirs) == {*ours, "aunt"}
    assert theirs["aunt"].wrong == 0.2 and theirs["aunt"].drift == 0.004
    assert theirs["evening"].stops == 0 and theirs["evening"].hesitations == 3


def test_rhythms_of_the_players_own_take_the_place_of_all_of_ours_for_that_bar(own: Write) -> None:
    from companion.preferences.players import PlayerPreferences

    ours = preferences(PlayerPreferences).comping
    own("players", "[comping]\n4 = [[[0, 1.0]]]\n5 = [[[0, 2.0], [3, 1.0]]]\n")
    theirs = preferences(PlayerPreferences).comping
    assert theirs[4] == (((0, 1.0),),) and theirs[5] and theirs[3] == ours[3]


def test_accents_busyness_turns_feels_instruments_and_capture_are_laid_over_too(own: Write) -> None:
    from companion.preferences.accents import AccentPreferences
    from companion.preferences.capture import CapturePreferences
    from companion.preferences.feels import FeelPreferences
    from companion.preferences.instruments import InstrumentPreferences
    from companion.preferences.listening import ListeningPreferences
    from companion.preferences.trading import TradingPreferences

    own("accents", "[solo]\noff-beat = 1.1\n")
    own("capture", '[pattern.simple]\n"0 1/4" = 0.5\n[swing.cost]\nplain = 2.0\n')
    own("feels", "[swing]\npractice-ratio = 1.5\n[lazy]\nratio = [[60, 3.0]]\n")
    own("instruments", "[piano]\nlatency-ms = 25\n[synth.channels]\nbass = 9\n")
    own("listening", "[busy]\nleft-out = 0.3\n")
    own("trading", "[manners]\nwait = 1.5\n")
    accents = preferences(AccentPreferences).parts
    assert accents["solo"].off_beat == 1.1 and accents["solo"].first == 1.0 and accents["bass"].backbeat == 1.06
    capture = preferences(CapturePreferences)
    assert capture.pattern.simple.named["0 1/4"] == 0.5 and capture.pattern.simple.named["1/2"] == 0.4
    assert (capture.swing.cost.plain, capture.swing.cost.straight) == (2.0, 4.0)
    feels = preferences(FeelPreferences).named
    assert feels["swing"].practice_ratio == 1.5 and len(feels["swing"].ratio) == 3 and "bossa" in feels
    assert feels["lazy"].practice_ratio == 2.0
    instruments = preferences(InstrumentPreferences)
    assert instruments.piano.latency_ms == 25 and instruments.synth.channels.of["bass"] == 9
    assert instruments.synth.channels.of["chords"] == 3 and instruments.midi == "auto"
    busy = preferences(ListeningPreferences).busy
    assert busy.left_out == 0.3 and busy.voices == (4, 2)
    assert preferences(TradingPreferences).manners.wait == 1.5
    assert preferences(TradingPreferences).manners.again == 2.0


def test_the_arrangers_tastes_are_laid_over_too_and_named_things_are_added_or_changed(own: Write) -> None:
    from companion.preferences.bass import BassPreferences
    from companion.preferences.by_ear import ByEarPreferences
    from companion.preferences.comping import CompingPreferences
    from companion.preferences.solo import SoloPreferences
    from companion.preferences.treatments import treatments
    from companion.preferences.turning import TurningPreferences
    from companion.preferences.voicings import VoicingPreferences

    own(
        "bass",
        '[patterns.in-two]\nhold = 0.5\n"3" = [[0, "root"], [1, "fifth"]]\n[patterns.stroll]\n"4" = [[0, "root"]]\n',
    )
    own("by-ear", "[answer]\ntries = 2\n")
    own(
        "comping",
        '[swing]\n"7/8" = [{ name = "on 1", hits = [[0, 1]] }]\n[mine]\n"4" = [{ name = "on 2", hits = [[1, 1]] }]\n',
    )
    own("solo", "[figures.scale.steps]\n5 = 0.1\n[cells.on]\nweight = [1, 1, 1]\n")
    own("turning", "[reach]\naround = 4\n")
    own(
        "voicings",
        '[rootless.maj7]\n"from the ninth" = "9 3 5 7"\n[mine]\nm7 = { "wide" = "5 | b3 9" }\n[low-limits]\n"3" = 50\n',
    )
    own("treatments", "[walking]\nlate = 0.5\n")
    own("treatments-mine", '[sunday]\nbass = "stroll"\nrhythms = "mine"\nchords = "mine"\n')
    bass = preferences(BassPreferences)
    two = bass.patterns["in-two"]
    assert (
        two.hold == 0.5
        and len([way for way in two.ways["4"] if not way.ends]) == 5
        and [way.at for way in two.ways["3"]] == [((0, "root"), (1, "fifth"))]
    )
    assert bass.patterns["stroll"].ways["4"][0].share == 1.0 and bass.range.lowest == 28
    assert preferences(ByEarPreferences).answer.tries == 2 and preferences(ByEarPreferences).answer.extra == 1
    comping = preferences(CompingPreferences)
    assert comping.swing.bars["7/8"][0].hits == ((0, 1),) and len(comping.swing.bars["4"]) == 17
    assert set(comping.sets) >= {"swing", "waltz", "mine"}
    solo = preferences(SoloPreferences)
    assert solo.figures.scale.steps[5] == 0.1 and solo.figures.scale.steps[-1] == 2.6
    assert solo.cells.named["on"].weight == (1, 1, 1) and solo.cells.named["on"].hits == (0,)
    assert preferences(TurningPreferences).reach.around == 4 and preferences(TurningPreferences).reach.farthest == 7
    voicings = preferences(VoicingPreferences)
    assert len(voicings.families["rootless"].forms["maj7"]) == 3 and voicings.families["mine"].forms["m7"]["wide"]
    assert voicings.low_limits[3] == 50 and voicings.low_limits[1] == 52
    assert treatments()["walking"].late == 0.5 and treatments()["walking"].tempo == (84, 400)
    assert treatments()["sunday"].chords == ("mine",) and treatments()["sunday"].name == "sunday"


@given(st.recursive(st.integers(0, 3), lambda inner: st.dictionaries(st.sampled_from("abc"), inner), max_leaves=12))
def test_laying_a_table_over_itself_changes_nothing_and_what_is_above_is_kept(value: Any) -> None:
    table = {"top": value}
    assert laid_over(table, table) == table == laid_over({}, table) == laid_over(table, {})
    assert laid_over({"top": 9, "other": 1}, table) == {**table, "other": 1}


def test_a_file_that_is_saved_while_a_tune_is_on_changes_nothing_in_it(own: Write) -> None:
    from companion.preferences.touch import TouchPreferences

    path = own("touch", "[bass]\nlevel = 90\n")
    before = preferences(TouchPreferences)
    path.write_text("[bass]\nlevel = ", encoding="utf-8")  # half a line, as an editor may leave it
    assert preferences(TouchPreferences) is before


def test_nothing_that_was_read_can_be_changed(own: Write) -> None:
    from companion.preferences.touch import TouchPreferences

    touch = preferences(TouchPreferences)
    with pytest.raises(AttributeError):
        touch.parts["bass"].level = 1.0  # type: ignore[misc]
    with pytest.raises(TypeError):
        touch.parts["bass"] = touch.parts["solo"]  # type: ignore[index]


# Faults


def test_a_misspelt_key_gets_the_nearest_right_one(own: Write) -> None:
    from companion.preferences.touch import TouchPreferences

    path = own("touch", "[bass]\nlevl = 90\n")
    assert fault(TouchPreferences) == f"{path}: [bass]: 'levl' is no key here; did you mean 'level'?"


@pytest.mark.parametrize(
    ("name", "text", "says"),
    [
        ("touch", "[bas]\nlevel = 60\n", "'bas' is no key here; did you mean 'bass'?"),
        (
            "touch",
            "[drums]\nlevel = 60\n",
            "'drums' is no key here; there are phrases, live, melody, chords, bass, solo, click",
        ),
        (
            "touch",
            "[bass]\nlevel = 300\n",
            "[bass]: level = 300 is not a number from 1 to 127 (a velocity); ours says level = 68",
        ),
        ("touch", '[bass]\nlevel = "loud"\n', '[bass]: level = "loud" is not a number from 1 to 127'),
        ("touch", "[bass]\nlevel = true\n", "[bass]: level = true is not a number"),
        ("touch", "[bass]\nlevel = nan\n", "[bass]: level = nan is not a number"),
        ("touch", "bass = 68\n", "bass = 68 is not a table; write [bass] on a line of its own, its keys below"),
        ("accents", "[bass]\noff_beat = 1.1\n", "[bass]: 'off_beat' is no key here; did you mean 'off-beat'?"),
        ("order", "[ritardando]\nto = 1.5\n", "[ritardando]: to = 1.5 is not a number from 0 to 1"),
        ("order", "[ritardando]\nto = 0\n", "[ritardando]: to is a share above 0"),
        (
            "order",
            "[ritardando.bars]\ntag = 2.5\n",
            "[ritardando.bars]: tag = 2.5 is not a whole number from 0 to 64 (bars)",
        ),
        (
            "signals",
            "[taught]\nagain = { key = 128 }\n",
            "[taught.again]: key = 128 is not a whole number from 0 to 127 (a MIDI number)",
        ),
        ("signals", "[lasttime]\npedal = 66\n", "'lasttime' is no key here; did you mean 'last-time'?"),
        ("signals", "[taught]\nagian = { key = 21 }\n", "[taught]: 'agian' is no key here; did you mean 'again'?"),
        ("signals", "[taught]\nagain = { controller = 64 }\n", "[taught.again]: controller 64 is the damper pedal"),
        ("signals", "[taught]\nagain = {}\n", "[taught.again]: say one of key, controller and program"),
        (
            "signals",
            "[taught]\nagain = { key = 21 }\nstop = { key = 21 }\n",
            "[taught]: 'again' and 'stop' are told by the same",
        ),
        ("signals", '[end-keys]\nblack = ["again"]\n', "[end-keys]: white and black name each no more than once"),
        ("trading", "[manners]\nwaits = 1\n", "[manners]: 'waits' is no key here; did you mean 'wait'?"),
        ("listening", "[busy]\nextra = [6, 2]\n", "[busy]: extra and running go from a number to a greater one"),
        (
            "listening",
            "[busy]\nextra = [2]\n",
            "[busy]: extra = [2] is not a list of 2, each a number from 0 to 64 (beats)",
        ),
        ("following", "[waiting]\nlongst = 1\n", "[waiting]: 'longst' is no key here; did you mean 'longest'?"),
        ("following", "[phrasing.none]\nby = 0\nbegins = 0.01\nends = 0.2\n", "[phrasing.none]: by is not 0"),
        ("following", "[fills]\nbegins = 2\n", "[fills]: begins = 2 is not a number from 0.0001 to 0.1"),
        ("following", '[solo.strikes.simple]\n"3/2" = 0.1\n', "[solo.strikes]: strikes are named by quarters"),
        ("following", "[solo-or-head]\nsolo = 0.9\n", "[solo-or-head]: solo is not above head"),
        ("feels", "[odd]\nabout = 'x'\n", "[odd]: 'ratio' is missing"),
        (
            "feels",
            "[swing]\nratio = [[160, 2], [60, 2]]\n",
            "[swing]: ratio holds pairs of tempo and ratio, from slow to fast",
        ),
        ("players", "[player.me]\nwrng = 0.1\n", "[player.me]: 'wrng' is no key here; did you mean 'wrong'?"),
        ("players", "[player.me]\nstop_seconds = [2]\n", "[player.me]: stop_seconds = [2] is not a list of 2"),
        ("players", "[comping]\nfour = [[[0, 1]]]\n", "[comping]: 'four' is no key here; a key here is a number"),
        (
            "instruments",
            'midi = "asla"\n',
            "midi = \"asla\" is not one of 'auto', 'alsa', 'jack', 'core', 'windows'; did you mean 'alsa'?",
        ),
        (
            "instruments",
            "[piano.channels]\nbass = 17\n",
            "[piano.channels]: bass = 17 is not a whole number from 1 to 16",
        ),
        ("instruments", "[piano.programs]\ntuba = 58\n", "[piano.programs]: 'tuba' is no key here; there are"),
        ("capture", "[timing.click]\noffms = 3\n", "[timing.click]: 'offms' is no key here; did you mean 'off-ms'?"),
        (
            "capture",
            '[pattern.simple]\n"0 2/1" = 1\n',
            "[pattern.simple]: '0 2/1' is no key here; there are other, places of a beat",
        ),
        ("touch", "[bass\n", "line 1: not valid TOML"),
        ("bass", "[cost]\nleap = 5\n", "'cost' is no key here; did you mean 'costs'?"),
        ("bass", "[range]\nlowest = 60\n", "[range]: from 60 to 55, comfortable [31, 48], is no range for a bass"),
        ("bass", '[patterns.x]\n"5/" = [[0, "root"]]\n', "[patterns.x]: '5/' is no key here; there are every, hold"),
        ("bass", '[patterns.x]\n"4" = [{ share = 0, at = [[0, "root"]] }]\n', "[patterns.x]: none of the ways for '4'"),
        ("by-ear", "[answer]\ntries = 0\n", "[answer]: tries = 0 is not a whole number from 1 to 100 (answers)"),
        ("comping", "[placment]\nclear = 1\n", "[placment]: 'clear' is no key here"),
        (
            "comping",
            '[held]\n"1" = [{ name = "late", after = [2] }]\n',
            "[held]: 'late' has a chord after the 1 quarters",
        ),
        ("listening", "[busy]\nextra = [3, 3]\n", "[busy]: extra and running go from a number to a greater one"),
        ("listening", "[busy]\nrunning = [3, 2]\n", "[busy]: extra and running go from a number to a greater one"),
        ("voicings", "[register]\nlowest = 65\n", "[register]: lowest, lowest-at-most and highest, and the two of"),
        ("voicings", "[register]\nlowest-at-most = 75\n", "[register]: lowest, lowest-at-most and highest, and the"),
        ("voicings", "[register]\ncentre = [66, 50]\n", "[register]: lowest, lowest-at-most and highest, and the"),
        ("solo", "[figures.scales]\nweight = 1\n", "[figures]: 'scales' is no key here; did you mean 'scale'?"),
        ("solo", "[range]\nlowest = 80\n", "[range]: an octave at least from lowest to highest"),
        ("treatments", '[walking]\nplacement = "gap"\n', '[walking]: placement = "gap" is not one of'),
        ("turning", "[prices]\nsame_way = 2\n", "[prices]: 'same_way' is no key here; did you mean 'same-way'?"),
        (
            "voicings",
            '[rootless]\nmaj77 = { "x" = "3 5" }\n',
            "[rootless]: 'maj77' is no key here; did you mean 'maj7'?",
        ),
        (
            "voicings",
            '[rootless.m7]\n"x" = "b3 5 b77"\n',
            '[rootless.m7]: x = "b3 5 b77" is not a text (degrees such as',
        ),
    ],
)
def test_what_cannot_be_is_said_with_its_place_and_what_would_be_right(
    own: Write, name: str, text: str, says: str
) -> None:
    path = own(name, text)
    assert fault(kind_of(name)).startswith(f"{path}: {says}")


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("voicings", "[register]\nlowest-at-most = 74\n"),
        ("voicings", "[register]\nlowest = 64\n"),
        ("voicings", "[register]\ncentre = [60, 60]\n"),
    ],
)
def test_two_bounds_may_meet(own: Write, name: str, text: str) -> None:
    own(name, text)
    preferences(kind_of(name))


def kind_of(name: str) -> type[Any]:
    """The object of a file, by the file's name."""
    return KINDS[name]


KINDS = {file_of(kind): kind for kind in EVERY}


@pytest.mark.parametrize(
    ("name", "table"),
    [("capture", "[pattern.simple]"), ("following", "[solo.strikes.simple]"), ("bass", "[patterns.x]")],
)
def test_a_place_of_thousands_of_digits_is_one_line(own: Write, name: str, table: str) -> None:
    path = own(name, f'{table}\n"{"1" * 5000}" = 0.5\n')
    assert fault(kind_of(name)).startswith(f"{path}: [")


def test_a_list_of_tables_says_which_of_them_is_wrong() -> None:
    with pytest.raises(Fault) as caught:
        structured(Ways, {"ways": [{"share": 1}, {"share": 2}]})
    assert caught.value.keys == ("ways", 1, "share") and "share = 2 is not a number from 0 to 1" in str(caught.value)


def test_a_misspelt_table_beside_named_ones_is_not_taken_for_a_new_name() -> None:
    assert structured(Sets, {"placement": {"most": 1}, "swing": [1, 2]}).sets == {"swing": (1, 2)}
    with pytest.raises(Fault) as caught:
        structured(Sets, {"placement": {"most": 1}, "placment": {"most": 2}})
    assert caught.value.mend == "did you mean 'placement'?"


def test_a_file_that_is_no_file_is_said(own: Write) -> None:
    from companion.preferences.touch import TouchPreferences

    path = own("touch", "")
    path.unlink()
    path.mkdir()
    forget()
    assert str(path) in fault(TouchPreferences)


FILES = [
    (Path("ours.toml"), {"a": {"b": 1, "c": [1, 2]}, "t": {"k": 1}, "u": {"k": 1}}),
    (Path("own.toml"), {"a": {"c": [3]}, "u": 3}),
]


@pytest.mark.parametrize(
    ("fault", "said"),
    [
        (Fault("b is odd", ("a", "b"), shows="b"), "ours.toml: [a]: b is odd"),
        (Fault("c is odd", ("a", "c"), shows="c"), "own.toml: [a]: c is odd; ours says c = [1, 2]"),
        (Fault("c is odd", ("a", "c", 0), shows="c[1]"), "own.toml: [a]: c is odd; ours says c[1] = 1"),
        (Fault("c is odd", ("a", "c"), "leave it out", shows="c"), "own.toml: [a]: c is odd; leave it out"),
        (Fault("c is odd", ("a", "c")), "own.toml: [a]: c is odd"),
        (Fault("x is odd", ("a", "x"), shows="x"), "own.toml: [a]: x is odd"),
        (Fault("a is odd", ("a", "")), "own.toml: [a]: a is odd"),
        (Fault("k is odd", ("t", "k"), shows="k"), "ours.toml: [t]: k is odd"),
        (Fault("t is odd", ("t",), shows="t"), "ours.toml: t is odd"),
        (
            Fault("u is no table", ("u",), shows="u"),
            "own.toml: u is no table; write [u] on a line of its own, its keys below",
        ),
        (Fault("d is odd", ("a", "c", 0, "d")), "own.toml: [a.c]: d is odd"),
        (Fault("v is missing", ("",)), "own.toml: v is missing"),
        (Fault("w is missing", ("w", "")), "own.toml: [w]: w is missing"),
    ],
)
def test_a_fault_is_the_files_that_says_it_last_and_ours_is_named_beside_it(fault: Fault, said: str) -> None:
    assert str(told(fault, FILES)) == said


def test_a_link_that_leads_nowhere_is_said(own: Write) -> None:
    from companion.preferences.touch import TouchPreferences

    path = own("touch", "")
    path.unlink()
    path.symlink_to(path.with_name("gone.toml"))
    forget()
    assert str(path) in fault(TouchPreferences)


VALUES = st.recursive(
    st.one_of(
        st.booleans(), st.integers(-200, 200), st.floats(), st.text(max_size=4), st.sampled_from(["bass", "0 1/2"])
    ),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=4), inner, max_size=3),
    max_leaves=6,
)


@cache
def shipped_table(name: str) -> dict[str, Any]:
    return read_toml_file(shipped_folder() / "configs" / f"{name}.toml")


@given(st.data())
def test_garbled_values_give_one_line_and_never_a_traceback(data: st.DataObject) -> None:

    name = data.draw(st.sampled_from(sorted(KINDS)))
    kind = kind_of(name)
    table = deepcopy(shipped_table(name))
    inner = table
    while True:  # somewhere in the file, at any depth
        key = data.draw(st.sampled_from(sorted(inner)))
        if not (isinstance(inner[key], dict) and inner[key]) or data.draw(st.integers(0, 4)) == 0:
            break
        inner = inner[key]
    new_key = data.draw(st.sampled_from([key, key + "x", key[1:]]) | st.text(max_size=5))
    inner[new_key] = data.draw(VALUES)
    try:
        structured(kind, table)
    except Fault as fault:
        said = str(told(fault, [(Path("own.toml"), table)]))
        assert "\n" not in said and said.startswith("own.toml: ") and len(said) < 600
