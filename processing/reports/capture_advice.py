# SPDX-License-Identifier: GPL-2.0-or-later
"""What a surveyor should do about captures while still on site: one sentence a station."""

from __future__ import annotations

from collections.abc import Sequence

from ..captures.findings import listed
from .capture_facts import CaptureFacts

NOTHING = "Nothing to measure again."

OF_THE_INSTRUMENT = {"movement": "did not stand still", "level": "was not level"}

REASONS = {
    "few readings": "too few readings are usable",
    "two faces": "the two faces disagree",
    "repeated sightings": "repeated sightings disagree",
    "orientation": "the backsights orient the circle differently",
    "instrument": "the instrument needs adjusting, and one face is not enough",
}
"""What a check that asks for another measurement has found, in a few words."""

ONCE_MORE = "Set up once more near by: much of what the beam met sent nothing back."
IMPORT_AGAIN = "Nothing to measure again, but check the units and import again."


def advice_of(facts: CaptureFacts) -> str:
    """One plain sentence of advice about a station."""
    checks = list(dict.fromkeys(remark.check for remark in facts.again))
    if checks:
        stood = [OF_THE_INSTRUMENT[check] for check in checks if check in OF_THE_INSTRUMENT]
        why = [f"the instrument {listed(stood)}"] if stood else []
        why += [
            REASONS.get(check, f"see the remark on {check}")
            for check in checks
            if check not in OF_THE_INSTRUMENT
        ]
        return f"Measure again: {'; '.join(why)}."
    found = {remark.check for remark in facts.remarks}
    if "units" in found:
        return IMPORT_AGAIN
    return ONCE_MORE if "no return" in found else NOTHING


def first_to_measure(facts: Sequence[CaptureFacts]) -> list[CaptureFacts]:
    """The stations to measure again, those with most against them first, then those of which least
    is usable."""
    again = [own for own in facts if own.again]
    return sorted(again, key=lambda own: (-len({r.check for r in own.again}), own.share))


def advice_for(facts: Sequence[CaptureFacts]) -> list[str]:
    """Sentences about the captures together: what ties them, and what turns them to north."""
    return [*_ties(facts), *_north(facts)]


def _ties(facts: Sequence[CaptureFacts]) -> list[str]:
    if len(facts) < 2:
        return []
    sighted: dict[str, list[str]] = {}
    for own in facts:
        for name in own.sighted:
            sighted.setdefault(name, []).append(own.station)
    if not sighted:
        return [
            "No target was sighted: the stations can be tied by what they see in common only. "
            "Where it is open, sight two targets from neighbouring stations."
        ]
    sentences = []
    tied = {station for stations in sighted.values() if len(stations) > 1 for station in stations}
    without = [own.station for own in facts if own.station not in tied]
    if without:
        sentences.append(
            f"No target that another station sees too was sighted from {listed(without)}: only "
            "overlap can tie such a station."
        )
    once = [f"{name} ({stations[0]})" for name, stations in sighted.items() if len(stations) < 2]
    if once:
        sentences.append(f"Sighted from one station only, and so tying nothing: {listed(once)}.")
    return sentences


def _north(facts: Sequence[CaptureFacts]) -> list[str]:
    bare = [own.station for own in facts if not own.has_compass]
    if bare and len(bare) == len(facts):
        return [
            "No station has a compass bearing: north must come from control points; "
            "else the plan keeps the first station's zero direction, turned to the nearest axis."
        ]
    if bare:
        return [f"Without a compass bearing: {listed(bare)}; the others give north."]
    return []
