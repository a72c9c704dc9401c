"""A chart from its file, by the file's suffix.

Every error is a :class:`~companion.errors.ChartError` that names the file and, where there is one, the place in it.
"""

from __future__ import annotations

from pathlib import Path

from companion.chart.model import Chart
from companion.errors import ChartError, InputError
from companion.resources import CHART_SUFFIXES


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
        from companion.chart.toml_format import read_toml

        return read_toml(path)
    if suffix == ".abc":
        from companion.chart.abc_tune import read_abc

        return read_abc(path)
    from companion.chart.musicxml import read_musicxml

    return read_musicxml(path)
