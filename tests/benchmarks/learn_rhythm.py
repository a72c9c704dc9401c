"""Learn the follower's rhythm table: ``python tests/benchmarks/learn_rhythm.py FOLDER [--out FILE.npz]``.

FOLDER holds one CSV a recording with rows ``kind,seconds,beat_index,...``: beats with their running index, and the
pianist's onsets. ``--half 0`` or ``--half 1`` learns from every other recording, so that the rest can judge.

Onsets less than 35 ms apart are one chord. Counts are smoothed by 12 ms, over neighbouring bands of tempo, and towards
what holds on the whole where there are few.
"""

from __future__ import annotations

import argparse
import csv
from pathlib import Path

import numpy as np

from companion.follow.rhythm import SLOTS, TEMPI

BEATS = 4
CHORD = 0.035
SMOOTH = 0.012
NEIGHBOURS = 0.6
DOUBT = 30.0
"""Onsets' worth of belief in what holds on the whole."""


def recording(path: Path) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Indices and seconds of the beats, and seconds of the pianist's onsets."""
    beats, piano = {}, []
    with path.open(newline="") as file:
        for row in csv.DictReader(file):
            if row["kind"] == "beat":
                beats[int(row["beat_index"])] = float(row["seconds"])
            elif row["kind"] == "piano":
                piano.append(float(row["seconds"]))
    index = np.array(sorted(beats))
    return index, np.array([beats[i] for i in index]), np.array(sorted(piano))


def counts(paths: list[Path]) -> np.ndarray:
    """How often each interval followed each slot, by band of tempo."""
    table = np.zeros((len(TEMPI) + 1, SLOTS, SLOTS * BEATS + 1))
    for path in paths:
        index, seconds, piano = recording(path)
        steps = np.diff(seconds)[np.diff(index) == 1]
        band = np.searchsorted(TEMPI, 60 / steps.mean())
        onsets = piano[(piano > seconds[0]) & (piano < seconds[-1])]
        onsets = onsets[np.r_[True, np.diff(onsets) > CHORD]]
        slots = np.interp(onsets, seconds, index) * SLOTS
        last = np.round(slots[:-1]).astype(int)
        interval = np.clip(np.round(slots[1:]) - last, 1, SLOTS * BEATS).astype(int)
        np.add.at(table, (band, last % SLOTS, interval), 1)
    return table


def blurred(table: np.ndarray, width: float, axis: int, wrap: bool) -> np.ndarray:
    """Smoothed by a Gaussian of ``width`` slots along an axis."""
    reach = int(np.ceil(4 * width))
    kernel = np.exp(-0.5 * (np.arange(-reach, reach + 1) / width) ** 2)
    kernel /= kernel.sum()
    padded = np.pad(table, [(reach, reach) if a == axis else (0, 0) for a in (0, 1)], "wrap" if wrap else "constant")
    return np.apply_along_axis(np.convolve, axis, padded, kernel, "valid")


def learn(paths: list[Path]) -> np.ndarray:
    """Shares of the intervals after each slot: shape (bands, 24, 97), summing to 1 over the last axis."""
    found = counts(paths)
    edges = (TEMPI[0] - 15, *TEMPI, TEMPI[-1] + 15)
    shares = np.zeros_like(found)
    for band in range(len(found)):
        near = np.exp(-0.5 * ((np.arange(len(found)) - band) / NEIGHBOURS) ** 2)
        mixed = np.tensordot(near, found, 1)[:, :-1]
        width = SMOOTH * (edges[band] + edges[band + 1]) / 2 / 60 * SLOTS
        mixed = blurred(blurred(mixed, width, 0, True), width, 1, False)
        shares[band, :, :-1] = backed_off(mixed)
    return shares / shares.sum(axis=2, keepdims=True)


def backed_off(table: np.ndarray) -> np.ndarray:
    """Towards interval by place of arrival, where a slot has few onsets."""
    slot, interval = np.indices(table.shape)
    arrival = np.bincount(((slot + interval) % SLOTS).ravel(), table.ravel(), SLOTS)
    arrival /= arrival.sum()
    whole = table.sum(0) / table.sum()
    prior = whole * arrival[(slot + interval) % SLOTS] * SLOTS
    prior[:, 0] = 0
    prior /= prior.sum(axis=1, keepdims=True)
    return (table + DOUBT * prior) / (table.sum(axis=1, keepdims=True) + DOUBT)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--out", type=Path, default=Path("companion/follow/rhythm.npz"))
    parser.add_argument("--half", type=int, choices=(0, 1))
    args = parser.parse_args()
    paths = sorted(args.folder.glob("*.csv"))
    if not paths:
        parser.exit(2, f"{args.folder}: no recordings (*.csv) there\n")
    chosen = paths if args.half is None else paths[args.half :: 2]
    np.savez_compressed(args.out, shares=learn(chosen).astype(np.float16))
    print(f"{args.out}: learnt from {len(chosen)} recordings")


if __name__ == "__main__":
    main()
