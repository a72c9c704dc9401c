"""A chart from any file that holds a tune: read for playing, imported with its remarks, or checked for every fault.

The file's suffix says what it is. Every error is a :class:`~companion.errors.ChartError` that names the file and, where
there is one, the place in it.
"""

from __future__ import annotations

from collections.abc import Collection
from pathlib import Path

from companion.chart.check import check
from companion.chart.imported import Imported
from companion.chart.model import Chart
from companion.chart.toml.read import parse_toml, read_text
from companion.errors import ChartError, InputError
from companion.resources import CHART_SUFFIXES, IMPORT_SUFFIXES


def load(path: str | Path) -> Chart:
    """Read a chart.

    Parameters
    ----------
    path : str or Path
        A chart of ours (.toml), a MusicXML lead sheet (.musicxml, .mxl, .xml), or a tune in ABC (.abc).

    Returns
    -------
    Chart

    Raises
    ------
    ChartError
        When there is no such file, its suffix is none of ``CHART_SUFFIXES`` (:mod:`companion.resources`), or what it
        holds can't be read or played.
    """
    path = Path(path)
    suffix = path.suffix.lower()
    if suffix not in CHART_SUFFIXES:
        raise ChartError(f"{suffix or 'a file without a suffix'} is no kind of chart", file=str(path),
                         mend=f"give one of {', '.join(CHART_SUFFIXES)}")  # fmt: skip
    if not path.exists():
        raise ChartError("there is no such file", file=str(path))
    if path.is_dir():
        raise ChartError("is a folder, not a chart", file=str(path))
    try:
        chart = _read(path, suffix)
        chart.unfold()
    except ChartError as error:
        raise error.within(file=str(path)) from error
    except InputError as error:
        raise ChartError(error.what, file=error.file or str(path), where=error.where, mend=error.mend) from error
    return chart


def _read(path: Path, suffix: str) -> Chart:
    if suffix == ".toml":
        from companion.chart.toml.read import read_toml

        return read_toml(path)
    if suffix == ".abc":
        from companion.chart.abc.tune import read_abc

        return read_abc(path)
    from companion.chart.musicxml.read import read_musicxml

    return read_musicxml(path)


def import_file(path: str | Path, *, tune: int | None = None, melody: str | None = None) -> Imported:
    """Read a file of another format as a chart.

    Parameters
    ----------
    path : str or Path
    tune : int, optional
        Which tune of a file that holds several (ABC).
    melody : str, optional
        The voice, part or track that has the melody, by its name; by default it is found.

    Raises
    ------
    ChartError
        One line with the file and, where there is one, the bar.
    """
    path = Path(path)
    suffix = path.suffix.lower()
    if suffix not in IMPORT_SUFFIXES:
        raise ChartError(f"{suffix or 'a file without a suffix'} can't be imported", file=str(path),
                         mend=f"give one of {', '.join(IMPORT_SUFFIXES)}")  # fmt: skip
    if path.is_dir():
        raise ChartError("is a folder, not a file", file=str(path))
    if not path.exists():
        raise ChartError("there is no such file", file=str(path))
    imported = _imported(path, suffix, tune, melody)
    try:
        imported.chart.unfold()
    except ChartError as error:
        raise error.within(file=str(path)) from error
    return imported


def _imported(path: Path, suffix: str, tune: int | None, melody: str | None) -> Imported:
    if suffix == ".abc":
        from companion.chart.abc.tune import import_abc

        return import_abc(path, tune, melody)
    if tune is not None:
        raise ChartError("holds one tune", file=str(path), mend="leave --tune out")
    if suffix in (".mid", ".midi"):
        from companion.transcribe.midi_tune import read_midi

        return read_midi(path, melody)
    from companion.chart.musicxml.read import import_musicxml

    return import_musicxml(path, melody)


def check_file(
    path: str | Path, *, treatments: Collection[str] | None = None, feels: Collection[str] | None = None
) -> tuple[ChartError, ...]:
    """Every fault of a chart file, in the order of the file; none for a sound chart.

    Parameters
    ----------
    path : str or Path
        A chart of any kind that :func:`~companion.load.load` reads.
    treatments, feels : collection of str, optional
        The names there are; None: names are not checked.

    Returns
    -------
    tuple of ChartError
        Each prints as one line with file and place.

    Raises
    ------
    ChartError
        When the file is no chart at all: it can't be read, isn't TOML or XML, or is of a newer format.
    """
    path = Path(path)
    if path.suffix.lower() == ".toml" and path.is_file():
        try:
            faults = check_text(read_text(path), treatments=treatments, feels=feels)
        except ChartError as error:
            raise error.within(file=str(path)) from error
    else:
        faults = check(load(path), treatments=treatments, feels=feels)
    return tuple(fault.within(file=str(path)) for fault in faults)


def check_text(
    text: str, *, treatments: Collection[str] | None = None, feels: Collection[str] | None = None
) -> tuple[ChartError, ...]:
    """Every fault of the text of a chart of ours; as :func:`check_file`, no file being named."""
    faults: list[ChartError] = []
    chart = _own(text, faults)
    if chart is not None:
        faults += check(chart, treatments=treatments, feels=feels)
    return tuple(faults)


def _own(text: str, faults: list[ChartError]) -> Chart | None:
    """A chart of ours; None when it can't be played, for which the faults have the reason."""
    try:
        chart = parse_toml(text, faults.append)
    except ChartError as error:
        if error.where is None or not faults:
            raise
        faults.append(error)
        return None
    try:
        chart.unfold()
    except ChartError as error:
        faults.append(error)
        return None
    return chart
