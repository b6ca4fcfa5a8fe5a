# SPDX-License-Identifier: GPL-2.0-or-later
"""The few values of a capture that are compared with those of others."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

import numpy as np

from .duplicates import content_key
from .model import Capture


@dataclass(frozen=True)
class Setup:
    """A capture without its readings; `content` is its `duplicates.content_key`."""

    station: str
    capture_file: str
    level: int
    captured_at: datetime | None
    longitude_deg: float
    latitude_deg: float
    geotag_sigma_m: float
    ellipsoidal_height_m: float
    instrument_height_m: float
    content: bytes

    @classmethod
    def of(cls, capture: Capture) -> Setup:
        return cls(
            capture.station,
            capture.capture_file,
            capture.level,
            capture.captured_at,
            capture.longitude_deg,
            capture.latitude_deg,
            capture.place_sigma_m,
            capture.ellipsoidal_height_m,
            capture.instrument_height_m,
            content_key(capture),
        )

    @property
    def has_geotag(self) -> bool:
        return bool(np.isfinite(self.longitude_deg) and np.isfinite(self.latitude_deg))
