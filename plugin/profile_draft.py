# SPDX-License-Identifier: GPL-2.0-or-later
"""The file that is being described and the kept profile that was taken up; no widgets here."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING

from ..processing.algorithms.profile_store import ProfileStore
from ..processing.errors import SurveyError
from .profile_preview import head_of, reads_itself
from .translation import tr

if TYPE_CHECKING:
    from ..processing.captures.profile import Profile


@dataclass
class Opened:
    """What to show for a file: a profile (None: nothing to start from), whether it is a kept one,
    and a sentence about it."""

    profile: Profile | None
    kept: bool
    sentence: str


@dataclass
class Draft:
    """The first part of the file, its name, and the kept profile that was taken up."""

    store: ProfileStore = field(default_factory=ProfileStore)
    head: bytes = b""
    file: str = ""
    loaded: Profile | None = None

    def open(self, path: str) -> Opened:
        """Take a file: the kept profile that fits it, or else a first guess, to start from."""
        from ..processing.captures.profile_guess import guess_profile

        self.head, self.loaded, self.file = b"", None, Path(path).name
        if not path:
            return Opened(None, False, "")
        try:
            self.head = head_of(Path(path))
        except SurveyError as error:
            return Opened(None, False, str(error))
        fits = self._fitting()
        if fits:
            self.loaded = fits[0]
            sentence = tr("This file looks like those of the profile {name}.")
            return Opened(fits[0], True, sentence.format(name=fits[0].name))
        guess = guess_profile(self.head, Path(path).stem)
        itself = reads_itself(self.head)
        if itself:
            sentence = tr(
                "This file is {format}, which says itself what it holds: no profile is needed."
            ).format(format=itself)
        elif guess is None:
            sentence = tr("No table of numbers is found in this file: say how its lines are split.")
        else:
            sentence = tr(
                "This is a first guess. Check what each column holds and the units, and say which "
                "way the angles run: compare the picture with the room."
            )
        return Opened(guess, False, sentence)

    def load(self, name: str) -> Profile | None:
        """Take up the kept profile of this name."""
        self.loaded = self.store.all().get(name, self.loaded)
        return self.loaded

    def with_look(self, profile: Profile) -> Profile:
        """The profile with its look: the file's, or that of the profile that was taken up.

        Raises `SurveyError` when neither has the profile's columns.
        """
        from ..processing.captures.profile_look import look_of

        if not self.head:
            return replace(profile, look=self.loaded.look if self.loaded else None)
        look = look_of(self.head, profile)
        if look is None:
            raise SurveyError(tr("The file's lines do not split into these columns."))
        return replace(profile, look=look)

    def is_taken(self, name: str) -> bool:
        """Whether another profile than the one taken up has this name."""
        return name != (self.loaded.name if self.loaded else "") and name in self.store.names()

    def keep(self, profile: Profile) -> str:
        """Keep a profile, with a sentence about what comes of it. Raises `SurveyError` when there
        are too many."""
        from ..processing.captures.findings import listed

        self.store.keep(profile)
        self.loaded = profile
        others = [other.name for other in self._fitting() if not other.reads_like(profile)]
        if others:
            return tr(
                "Kept. {others} fits this file too and reads it otherwise: the import will ask "
                "which one is meant."
            ).format(others=listed(others))
        return tr("Kept. The next file that looks the same will be read so.")

    def _fitting(self) -> list[Profile]:
        from ..processing.captures.profile_look import fitting

        return fitting(self.head, list(self.store.all().values())) if self.head else []
