# SPDX-License-Identifier: GPL-2.0-or-later
"""What a surveyor should do about captures while still on site: one sentence a finding."""

from __future__ import annotations

import numpy as np

from ..captures.findings import listed
from ..captures.model import Capture, Flag, Kind, Survey
from ..captures.reported import reported_faults

FEW_READINGS = 100
MANY_NO_RETURN = 0.3
PART_OF_TURN_DEG = 350.0


def advice_of(capture: Capture) -> list[str]:
    """Sentences about one capture; none when nothing stands out."""
    sentences = reported_faults(capture)
    ring = capture.kind == Kind.RING
    lost = int((capture.flag[ring] == Flag.NO_RETURN).sum())
    if ring.any() and lost > MANY_NO_RETURN * ring.sum():
        sentences.append(
            f"{100 * lost / ring.sum():.0f} % of the readings brought no return: look for glass, "
            "for dark or glossy surfaces, for distances beyond the instrument's range, or for "
            "something before the beam; another set-up may see what is missing here."
        )
    usable = int(capture.usable_ring.sum())
    if usable < FEW_READINGS:
        sentences.append(
            f"Only {usable} ring readings are usable, too few for walls: measure again."
        )
    else:
        middle = float(np.median(capture.distance_m[capture.usable_ring]))
        if not 0.2 <= middle <= 50.0:
            sentences.append(
                f"Half of the distances are beyond {middle:.3g} m, which is unusual indoors: check "
                "distance_unit."
            )
        covered = _covered_deg(capture)
        if covered < PART_OF_TURN_DEG:
            sentences.append(
                f"The readings cover {covered:.0f} deg of the full turn; the rest was not measured."
            )
    return sentences


def _covered_deg(capture: Capture) -> float:
    """The full turn without its widest gap between ring readings, with or without return."""
    angle = np.sort(capture.angle_deg[capture.kind == Kind.RING] % 360.0)
    gap = np.diff(np.append(angle, angle[0] + 360.0))
    usual = float(np.median(gap[gap > 0])) if np.any(gap > 0) else 0.0
    widest = float(np.max(gap))
    return 360.0 - widest if widest > 3.0 * usual else 360.0


def advice_for(survey: Survey) -> list[str]:
    """Sentences about the captures together: what ties them, and what turns them to north."""
    captures = survey.captures
    sighted: dict[str, list[str]] = {}
    for capture in captures:
        kept = capture.usable & (capture.kind == Kind.TARGET)
        for name in np.unique(capture.target[kept]):
            sighted.setdefault(str(name), []).append(capture.station)
    sentences = []
    if len(captures) > 1 and not sighted:
        sentences.append(
            "No target was sighted: the stations can be tied by what they see in common only. "
            "Where it is open, sight two targets from neighbouring stations."
        )
    elif len(captures) > 1:
        seen = {
            station for stations in sighted.values() if len(stations) > 1 for station in stations
        }
        without = [capture.station for capture in captures if capture.station not in seen]
        if without:
            sentences.append(
                f"No target that another station sees too was sighted from {listed(without)}: only "
                "overlap can tie such a station."
            )
        once = [
            f"{name} ({stations[0]})" for name, stations in sighted.items() if len(stations) < 2
        ]
        if once:
            sentences.append(
                f"Sighted from one station only, and so tying nothing: {listed(once)}."
            )
    bare = [capture.station for capture in captures if not capture.has_compass]
    if bare and len(bare) == len(captures):
        sentences.append(
            "No station has a compass bearing: north must come from control points; "
            "else the plan keeps the first station's zero direction, turned to the nearest axis."
        )
    elif bare:
        sentences.append(f"Without a compass bearing: {listed(bare)}; the others give north.")
    return sentences
