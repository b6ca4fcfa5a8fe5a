# SPDX-License-Identifier: GPL-2.0-or-later
"""What a person is told about files that are not read, or read by a profile."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

from .findings import Rules, listed, shown
from .model import Survey
from .profile_look import nearest
from .profiled_text import PROFILE_KEY, is_unmarked


def unmarked(head: bytes, rules: Rules, file: str) -> str:
    """The sentence for a text file that no reader knows and no profile fits."""
    if rules.profile is not None:
        return (
            f"{file}: the profile {shown(rules.profile.name)} does not fit this file; expected "
            f"{len(rules.profile.columns)} columns separated by {rules.profile.separator}, with "
            "numbers where the profile has angle and distance."
        )
    like = ""
    if rules.profiles:
        name, why = nearest(head, rules.profiles)
        like = f" (the nearest profile, {shown(name)}, does not fit: {why})"
    return (
        f"{file}: an unmarked text file, it does not say what its columns are{like}; describe "
        "it once in the window 'Describe a text file' of the menu Roomtie, or name a profile in "
        "PROFILE."
    )


_MOST_NAMES = 20


@dataclass
class PassedOver:
    """The names of files in a folder that are not read: those that hold no captures, and those
    that might, but do not say what they are."""

    no_captures: list[str] = field(default_factory=list)
    unmarked: list[str] = field(default_factory=list)
    first_unmarked: str = ""

    def add(self, file: str, head: bytes, rules: Rules) -> None:
        """Note a file that no reader knows by its name and its first part."""
        if not is_unmarked(head):
            self.no_captures.append(file)
            return
        self.first_unmarked = self.first_unmarked or unmarked(head, rules, file)
        self.unmarked.append(file)

    def warnings(self) -> Iterator[str]:
        if self.no_captures:
            yield f"Passed over, as they hold no captures: {_named(self.no_captures)}."
        if self.unmarked:
            yield (
                "Passed over, as they do not say what their columns are: "
                f"{_named(self.unmarked)}; if they are captures, describe them in the window "
                "'Describe a text file' of the menu Roomtie."
            )


def _named(files: list[str]) -> str:
    more = len(files) - _MOST_NAMES
    return ", ".join(files[:_MOST_NAMES]) + (f" and {more:,} more" if more > 0 else "")


def read_by_profiles(survey: Survey) -> Iterator[str]:
    """Which files were read by which profile."""
    files: dict[str, dict[str, None]] = {}
    for capture in survey.captures:
        if PROFILE_KEY in capture.other:
            files.setdefault(capture.other[PROFILE_KEY], {})[capture.capture_file] = None
    for profile, names in files.items():
        yield f"Read as the profile {shown(profile)} says: {listed(list(names))}."
