# SPDX-License-Identifier: GPL-2.0-or-later
"""At any instant an output is what stood there before or the whole new one, and a cancel leaves
the former: asked wherever the work asks whether to stop."""

import random

import pytest
from in_the_host import Asked, tried
from jobs import WRITING, contents

CANCELS = 3
questions = {}
"""How often each algorithm asked whether to stop, from the first of the two tests."""


class Watching(Asked):
    """Looks at files whenever it is asked."""

    def __init__(self, files):
        super().__init__()
        self.files = files
        self.seen = {path: [] for path in files}

    def look(self):
        for path in self.files:
            about = path.stat() if path.exists() else None
            state = about and (about.st_ino, about.st_size, about.st_mtime_ns)
            if not self.seen[path] or self.seen[path][-1] != state:
                self.seen[path].append(state)

    def isCanceled(self):  # noqa: N802 - the host's name
        self.look()
        return super().isCanceled()


class CancelsAt(Asked):
    """Says stop at the question of that number."""

    def __init__(self, number):
        super().__init__()
        self.number = number

    def isCanceled(self):  # noqa: N802 - the host's name
        if len(self.asked) >= self.number:
            self.cancel()
        return super().isCanceled()


def laid(jobs, name, place):
    """The job's folder with outputs of an earlier run; where they are."""
    before = jobs.lay(name, place)
    files = [place / path for path in map(str, jobs.outputs(name, place).values())]
    files += [path.with_suffix(".json") for path in files if path.name == "plan.html"]
    for path in files:
        made = jobs.folder / "rooms.gpkg"
        path.write_bytes(made.read_bytes() if path.suffix == ".gpkg" else b"of an earlier run")
    return {**before, **contents(place)}, files


@pytest.mark.parametrize("name", WRITING)
def test_an_output_is_the_old_one_until_it_is_the_new_one(roomtie, jobs, tmp_path, name):
    _, files = laid(jobs, name, tmp_path)
    watching = Watching(files)
    watching.look()
    old = {path: watching.seen[path][0] for path in files}
    said = tried(roomtie, name, jobs.parameters(name, tmp_path), watching)
    assert said["ended"] == "done", said
    watching.look()
    questions[name] = len(watching.asked)
    for path in files:
        # The undo file is there before the commit, so that it is seen before the end.
        assert watching.seen[path] == [old[path], watching.seen[path][-1]], path
        assert watching.seen[path][-1] is not None
    # Nothing but the outputs, and what is said to be kept, is left beside them.
    assert not [left for left in contents(tmp_path) if left.startswith(".")]


@pytest.mark.parametrize("name", WRITING)
def test_a_cancel_anywhere_leaves_all_as_it_was(roomtie, jobs, tmp_path, name):
    if name not in questions:
        place = tmp_path / "whole"
        place.mkdir()
        laid(jobs, name, place)
        watching = Watching([])
        tried(roomtie, name, jobs.parameters(name, place), watching)
        questions[name] = len(watching.asked)
    last = questions[name] - 1
    luck = random.Random(name)
    # The last questions are those of writing.
    numbers = {*luck.sample(range(1, last + 1), min(CANCELS - 1, last)), last}
    for number in numbers:
        place = tmp_path / str(number)
        place.mkdir()
        before, _ = laid(jobs, name, place)
        said = tried(roomtie, name, jobs.parameters(name, place), CancelsAt(number))
        if said["ended"] == "done":  # what was asked last is not always heard
            assert number == last
        else:
            assert said["ended"] == "cancelled", said
            assert contents(place) == before, number
