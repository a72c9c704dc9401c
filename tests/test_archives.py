"""Archives from anywhere are unpacked within limits, and nothing that they name is believed."""

from __future__ import annotations

import io
import stat
import warnings
import zipfile
from collections.abc import Callable

import pytest

from companion.archives import MOST_RATIO, opened_archive, packed_files, unpacked, unpacked_files
from companion.errors import ChartError

LIMITS = {"words.toml": 200_000, "tune.mid": 1000}


def _files(data: bytes) -> dict[str, bytes]:
    return unpacked_files(data, LIMITS, ["words.toml"], "lesson", ChartError, "ask for it again")


def _zipped(*files: tuple[str | zipfile.ZipInfo, bytes], method: int = zipfile.ZIP_DEFLATED) -> bytes:
    buffer = io.BytesIO()
    with warnings.catch_warnings(), zipfile.ZipFile(buffer, "w", method) as archive:
        warnings.simplefilter("ignore")  # a name that is there twice
        for name, content in files:
            archive.writestr(name, content)
    return buffer.getvalue()


def _entry(name: str, mode: int = 0) -> zipfile.ZipInfo:
    entry = zipfile.ZipInfo(name)
    entry.external_attr = mode << 16
    return entry


def test_what_is_packed_is_unpacked() -> None:
    files = {"words.toml": b"format = 1\n", "tune.mid": bytes(range(256))}
    assert _files(packed_files(files)) == files


def test_the_same_files_make_the_same_bytes() -> None:
    files = {"words.toml": b"format = 1\n", "tune.mid": b"MThd"}
    once = packed_files(files)
    assert packed_files(files) == once
    assert packed_files({**files, "tune.mid": b"MThe"}) != once
    with zipfile.ZipFile(io.BytesIO(once)) as archive:
        assert {entry.date_time[0] for entry in archive.infolist()} == {1980}, "no clock is read"


def test_what_others_deflated_is_read() -> None:
    assert _files(_zipped(("words.toml", b"format = 1\n"))) == {"words.toml": b"format = 1\n"}


REFUSED: dict[str, tuple[Callable[[], bytes], str]] = {
    "nothing": (lambda: b"", "isn't a lesson"),
    "text": (lambda: b"format = 1\n", "isn't a lesson"),
    "an empty archive": (lambda: _zipped(), "isn't a lesson"),
    "an archive behind other bytes": (lambda: b"MZ" + _zipped(("words.toml", b"1")), "isn't a lesson"),
    "a beginning alone": (lambda: b"PK\x03\x04", "isn't a sound lesson"),
    "a cut one": (lambda: _zipped(("words.toml", b"format = 1\n"))[:-30], "isn't a sound lesson"),
    "an absolute path": (lambda: _zipped(("/etc/words.toml", b"1")), "'/etc/words.toml', which is no part"),
    "a parent": (lambda: _zipped(("../words.toml", b"1")), "'../words.toml', which is no part"),
    "a parent, otherwise": (lambda: _zipped(("..\\words.toml", b"1")), "which is no part"),
    "a drive": (lambda: _zipped(("C:words.toml", b"1")), "which is no part"),
    "another name": (lambda: _zipped(("run.sh", b"1")), "'run.sh', which is no part of a lesson"),
    "a name that moves the cursor": (lambda: _zipped(("\x1b[2J", b"1")), r"\x1b[2J"),
    "a name cut by a zero": (
        lambda: _zipped(("words.toml_x", b"1")).replace(b"words.toml_x", b"words.toml\0x"),
        "which is no part",
    ),
    "one name twice": (lambda: _zipped(("words.toml", b"1"), ("words.toml", b"2")), "words.toml: is in it twice"),
    "too many": (lambda: _zipped(*[("words.toml", b"")] * 3), "holds 3 files"),
    "one is missing": (lambda: _zipped(("tune.mid", b"1")), "words.toml: is missing"),
    "a link": (lambda: _zipped((_entry("words.toml", stat.S_IFLNK | 0o777), b"/etc/passwd")), "is a link"),
    "a folder": (lambda: _zipped((_entry("words.toml", stat.S_IFDIR | 0o755), b"")), "is a link or a folder"),
    "a pipe": (lambda: _zipped((_entry("words.toml", stat.S_IFIFO | 0o600), b"")), "is a link or a folder"),
    "a large one": (lambda: packed_files({"words.toml": b"1", "tune.mid": bytes(1001)}), "tune.mid: is larger than"),
    "one that unpacks beyond belief": (lambda: _zipped(("words.toml", bytes(190_000))), f"{MOST_RATIO} times"),
    "another method": (lambda: _zipped(("words.toml", b"1" * 50), method=zipfile.ZIP_LZMA), "stored or deflated"),
}


@pytest.mark.parametrize("what", REFUSED)
def test_what_no_archive_of_ours_holds_is_one_line(what: str) -> None:
    made, said = REFUSED[what]
    with pytest.raises(ChartError) as refused:
        _files(made())
    assert said in str(refused.value) and str(refused.value).isprintable()


def test_a_size_that_is_a_lie_is_not_believed() -> None:
    """The entry says ten bytes, and unpacks to a hundred thousand."""
    data = _zipped(("tune.mid", bytes(100_000)), ("words.toml", b"1"))
    lie = data.replace((100_000).to_bytes(4, "little"), (10).to_bytes(4, "little"))
    assert lie != data
    with pytest.raises(ChartError, match="isn't a sound lesson"):
        _files(lie)


def test_a_flipped_bit_is_seen() -> None:
    data = packed_files({"words.toml": b"format = 1\n"})
    with pytest.raises(ChartError, match="isn't a sound lesson: Bad CRC-32"):
        _files(data.replace(b"format = 1", b"format = 3"))


def test_an_encrypted_one_is_refused() -> None:
    data = bytearray(packed_files({"words.toml": b"1"}))
    directory = data.index(b"PK\x01\x02")
    data[6] |= 1
    data[directory + 8] |= 1
    with pytest.raises(ChartError, match=r"words\.toml: is encrypted"):
        _files(bytes(data))


def test_an_archive_with_other_files_can_be_read_for_one() -> None:
    data = _zipped(("cover.png", b"1"), ("words.toml", b"22"))
    with opened_archive(data, "container", ChartError, "save it again") as archive:
        assert unpacked(archive, "words.toml", 2, "a score", ChartError) == b"22"
        with pytest.raises(ChartError, match="too large for a score"):
            unpacked(archive, "words.toml", 1, "a score", ChartError)


@pytest.mark.parametrize(("size", "fits"), [(64 * 1024, True), (64 * 1024 + 1, False)])
def test_how_well_a_small_file_packs_does_not_matter(size: int, fits: bool) -> None:
    data = _zipped(("words.toml", bytes(size)))
    if fits:
        assert len(_files(data)["words.toml"]) == size
        return
    with pytest.raises(ChartError, match=r"words\.toml: unpacks to more than 100 times its size; ask for it again"):
        _files(data)


def test_a_larger_file_may_pack_a_hundredfold() -> None:
    """Of half noise, which doesn't pack, and zeros: just over its limit of a hundred, and just under."""
    noise = bytes((n * n * 31 + n // 7) % 251 for n in range(2000))
    with zipfile.ZipFile(io.BytesIO(_zipped(("words.toml", noise + bytes(100_000))))) as archive:
        packed = archive.infolist()[0].compress_size
    assert 100_000 + len(noise) < MOST_RATIO * packed == 100 * packed
    assert len(_files(_zipped(("words.toml", noise + bytes(100_000))))["words.toml"]) == 102_000


@pytest.mark.parametrize(
    ("name", "shown"),
    [("x" * 60, "'" + "x" * 60 + "'"), ("x" * 61, "'" + "x" * 60 + "'"), ("\x07" + "y" * 60, r"\x07" + "y" * 59 + "'")],
)
def test_sixty_signs_of_a_name_are_shown(name: str, shown: str) -> None:
    with pytest.raises(ChartError) as refused:
        _files(_zipped((name, b"1")))
    assert f"{shown}" in str(refused.value).replace('"', "") and "x" * 61 not in str(refused.value)


def test_an_archive_of_ours_has_plain_files_of_the_earliest_day_there_is() -> None:
    """APPNOTE 4.4.2, 4.4.6 and 4.4.15: made on UNIX (3), on 1 January 1980, a regular file that its owner may write."""
    with zipfile.ZipFile(io.BytesIO(packed_files({"words.toml": b"1"}))) as archive:
        (entry,) = archive.infolist()
    assert (entry.create_system, entry.date_time) == (3, (1980, 1, 1, 0, 0, 0))
    assert (entry.external_attr, entry.compress_type) == (0o100644 << 16, zipfile.ZIP_STORED)


def test_a_file_within_its_limit_is_read_to_its_last_byte() -> None:
    files = {"words.toml": b"1", "tune.mid": bytes(1000)}
    assert _files(packed_files(files)) == files
