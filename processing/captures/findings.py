# SPDX-License-Identifier: GPL-2.0-or-later
"""What a reader finds wrong in a file, and the rules it reads by."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from ..errors import SurveyError
from .units import CLOCKWISE, FULL_TURN, METRES, check_choice

if TYPE_CHECKING:
    from .profile import Profile


@dataclass(frozen=True)
class Rules:
    """What the user says about the files: units and rotation (None: as the file says), whether
    lines that cannot be read are left out instead of ending the job, the profile to read unmarked
    text files by, and without it the kept profiles, of which the one that fits a file is taken."""

    angle_unit: str | None = None
    distance_unit: str | None = None
    rotation: str | None = None
    skip_unreadable: bool = False
    profile: Profile | None = None
    profiles: tuple[Profile, ...] = ()

    def __post_init__(self) -> None:
        check_choice(self.angle_unit, FULL_TURN, "The angle unit")
        check_choice(self.distance_unit, METRES, "The distance unit")
        check_choice(self.rotation, CLOCKWISE, "The rotation")


@dataclass
class Findings:
    """Takes what is wrong in one file: an error ends the reading, unless skipping is allowed.

    `part` names the part of the file that is being read, where lines do not tell."""

    file: str
    skip: bool = False
    part: str = ""
    skipped: list[str] = field(default_factory=list)
    warnings: list[str] = field(default_factory=list)

    def place(self, line: int | None = None) -> str:
        part = f", {self.part}" if self.part else ""
        return f"{self.file}{part}" if line is None else f"{self.file}{part}, line {line}"

    def bad(self, sentence: str, line: int | None = None) -> None:
        """Something cannot be read: raises `SurveyError`, or notes that it was skipped."""
        message = f"{self.place(line)}: {sentence}"
        if not self.skip:
            raise SurveyError(message)
        self.skipped.append(message)

    def warn(self, sentence: str, line: int | None = None) -> None:
        """Something that a person should know but that stops nothing."""
        self.warnings.append(f"{self.place(line)}: {sentence}")


def listed(names: Sequence[str], most: int = 6) -> str:
    """Names as they stand in a sentence: ``a, b and c``; the last ones counted when many."""
    if len(names) > most:
        return f"{', '.join(names[: most - 1])} and {len(names) - most + 1} more"
    return " and ".join(part for part in (", ".join(names[:-1]), *names[-1:]) if part)


def shown(found: str) -> str:
    """A value as it is quoted in a message: short, on one line."""
    found = " ".join(found.split())
    return repr(found if len(found) <= 40 else found[:37] + "...")
