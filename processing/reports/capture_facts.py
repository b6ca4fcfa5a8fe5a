# SPDX-License-Identifier: GPL-2.0-or-later
"""What a summary tells of one capture: a few figures, so that a large survey's fit into memory."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

import numpy as np

from ..captures.cut_height import CutHeight, check_cut, cut_height
from ..captures.model import NAN, Capture, Flag, Kind, Remark

FEW_READINGS = 100
"""Usable ring readings below this are too few for walls: one every 3.6 deg (common practice is far
more)."""


@dataclass(frozen=True)
class CaptureFacts:
    """Counts and figures of one capture. `flags` counts readings by `Flag`; `nearest_m` and
    `farthest_m` are usable distances, NaN without any; `sighted` are the targets with a usable
    sighting; `remarks` those of the capture and those of this summary."""

    station: str
    capture_file: str
    level: int
    captured_at: datetime | None
    readings: int
    flags: tuple[int, ...]
    ring: int
    usable_ring: int
    nearest_m: float
    farthest_m: float
    sighted: tuple[str, ...]
    magnetic_azimuth_deg: float
    has_geotag: bool
    cut: CutHeight
    remarks: tuple[Remark, ...]
    other: Mapping[str, str]

    @staticmethod
    def of(capture: Capture) -> CaptureFacts:
        """The facts of a capture, whose arrays should be in memory."""
        distance = capture.distance_m[capture.usable]
        ring = capture.kind == Kind.RING
        sighted = capture.usable & (capture.kind == Kind.TARGET)
        cut = cut_height(capture)
        remarks = capture.remarks + check_cut(cut)
        usable_ring = int((capture.usable & ring).sum())
        if ring.any() and usable_ring < FEW_READINGS:
            sentence = f"Only {usable_ring} ring readings are usable, too few for walls."
            remarks += (Remark("few readings", sentence, again=True),)
        return CaptureFacts(
            station=capture.station,
            capture_file=capture.capture_file,
            level=capture.level,
            captured_at=capture.captured_at,
            readings=len(capture),
            flags=tuple(np.bincount(capture.flag, minlength=len(Flag)).tolist()),
            ring=int(ring.sum()),
            usable_ring=usable_ring,
            nearest_m=float(distance.min()) if len(distance) else NAN,
            farthest_m=float(distance.max()) if len(distance) else NAN,
            sighted=tuple(sorted({str(name) for name in capture.target[sighted]})),
            magnetic_azimuth_deg=capture.magnetic_azimuth_deg,
            has_geotag=capture.has_geotag,
            cut=cut,
            remarks=remarks,
            other=capture.other,
        )

    @property
    def usable(self) -> int:
        return self.flags[Flag.USABLE]

    @property
    def share(self) -> float:
        """The share of usable readings."""
        return self.usable / self.readings if self.readings else 0.0

    @property
    def again(self) -> tuple[Remark, ...]:
        """The remarks for which the station should be measured again while on site."""
        return tuple(remark for remark in self.remarks if remark.again)

    @property
    def has_compass(self) -> bool:
        return bool(np.isfinite(self.magnetic_azimuth_deg))
