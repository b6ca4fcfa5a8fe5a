# SPDX-License-Identifier: GPL-2.0-or-later
"""Profiles of unmarked text files, kept by name in the host's settings."""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from qgis.core import QgsSettings

from ..errors import SurveyError
from .translation import tr

if TYPE_CHECKING:
    from ..captures.profile import Profile

# One value holds all: names may have any signs and any case, which keys of settings may not.
KEY = "roomtie/profiles"
MOST = 200
"""So many profiles are kept."""


class ProfileStore:
    """The kept profiles. Each call reads the settings anew, on an object of its own, so that it may
    come from any thread."""

    def all(self) -> dict[str, Profile]:
        """The profiles by name, in the order of names; what a later release or a damage made of
        one is left out."""
        return self._read()[0]

    def names(self) -> list[str]:
        return list(self.all())

    def keep(self, profile: Profile) -> None:
        """Keep a profile, in the place of the one of the same name."""
        profiles = {**self.all(), profile.name: profile}
        if len(profiles) > MOST:
            raise SurveyError(f"There are {MOST} profiles already; delete one first.")
        self._write(profiles.values())

    def delete(self, name: str) -> None:
        """Forget the profile of that name; nothing happens when there is none."""
        self._write(profile for own, profile in self.all().items() if own != name)

    def rename(self, name: str, new: str) -> None:
        """Give a profile another name. Raises `SurveyError` when the new one is bad or taken."""
        profiles = self.all()
        if name not in profiles:
            raise SurveyError(f"There is no profile {name!r}.")
        if new != name and new in profiles:
            raise SurveyError(f"The name {new!r} is used by another profile.")
        profiles[new] = replace(profiles.pop(name), name=new)
        self._write(profiles.values())

    def _read(self) -> tuple[dict[str, Profile], list[Any]]:
        """The profiles by name, and the entries that are none."""
        from ..captures.profile_json import profile_from_json

        value = QgsSettings().value(KEY, "")
        try:
            entries = json.loads(value) if isinstance(value, str) and value else []
        except (ValueError, RecursionError):
            entries = []
        profiles, others = {}, []
        for entry in entries if isinstance(entries, list) else []:
            try:
                profile = profile_from_json(json.dumps(entry))
            except SurveyError:
                others.append(entry)
            else:
                profiles[profile.name] = profile
        return {name: profiles[name] for name in sorted(profiles, key=str.casefold)}, others

    def _write(self, profiles: Iterable[Profile]) -> None:
        from ..captures.profile_json import profile_to_json

        entries = [json.loads(profile_to_json(profile)) for profile in profiles]
        QgsSettings().setValue(KEY, json.dumps([*entries, *self._read()[1]]))


def profile_file(path: Path) -> Profile:
    """The profile in a .json file. Raises `SurveyError` in one sentence when there is none."""
    from ..captures.profile_json import LARGEST, profile_from_json

    try:
        with path.open("rb") as stream:
            data = stream.read(LARGEST + 1)
    except OSError as error:
        raise SurveyError(
            f"{path}: the file cannot be read ({error.strerror}); expected a profile (.json)."
        ) from error
    try:
        return profile_from_json(data.decode("utf-8-sig"), path.name)
    except UnicodeDecodeError as error:
        raise SurveyError(f"{path}: the file is no JSON (UTF-8); expected a profile.") from error


def profile_told(text: str) -> str:
    """A parameter's value that means a profile, as a report tells it: of a file its name."""
    text = text.strip()
    return Path(text).name if _is_file(text) else text


def _is_file(text: str) -> bool:
    return not text.startswith("{") and text.lower().endswith(".json")


def profile_named(text: str) -> Profile:
    """The profile that a parameter's value means: the name of a kept one, the path of a .json file,
    or the JSON itself. Raises `SurveyError` in one sentence when it means none."""
    from ..captures.findings import listed, shown
    from ..captures.profile_json import profile_from_json

    text = text.strip()
    if text.startswith("{"):
        return profile_from_json(text, "PROFILE")
    kept = ProfileStore().all()
    if text in kept:
        return kept[text]
    if _is_file(text):
        return profile_file(Path(text))
    there = listed([shown(name) for name in kept]) if kept else tr("none")
    raise SurveyError(
        f"PROFILE: there is no profile {shown(text)}; kept are: {there}. Expected one of them, a "
        "profile's .json file, or its JSON."
    )
