# SPDX-License-Identifier: GPL-2.0-or-later
"""Names of targets that were mistaken, found where the stations are placed.

Sightings of one name that lie apart are not of one target. Which name belongs to which place is
what most sightings say (an assignment problem); a sighting that lies where another target is, is
taken for one of that target, and said so. What fits nothing is left out.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy.optimize import linear_sum_assignment
from scipy.sparse import csr_matrix
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from ..angles import Floats
from ..captures.model import Ints
from .connect_frames import moved
from .connect_groups import Groups

MISTAKEN_M, MISTAKEN_SHARE = 0.12, 0.01
"""Sightings of a target that lie this far apart, and this share of the distance more, are not of
one target; adjustment finds what is nearer."""

FITTING_M = 0.05
"""A sighting is taken for another target only where it lies as near to it as this, beyond its own
errors: what lies farther may be anything."""


def settle_names(groups: Groups, group: int, *, last: bool) -> None:
    """Find which sightings of a group bear a mistaken name.

    They are judged anew from what the captures say, so that the result does not depend on the order
    in which stations were joined. Where two sightings disagree and nothing tells which is right,
    both go once the group is final (`last`); until then the first of them stays.
    """
    _begin_anew(groups, group)
    s = groups.sightings
    rows = np.flatnonzero((groups.group[s.station] == group) & ~groups.out)
    at = moved(groups.pose[s.station[rows]], s.local_m[rows])
    allowed = 4.0 * s.spread_m[rows] + MISTAKEN_SHARE * s.distance_m[rows]
    torn = _torn(s.label[rows], at, allowed)
    if not len(torn):
        return
    near = _near(at, allowed + MISTAKEN_M)
    suspect = np.isin(s.label[rows], torn)
    beside = np.unique(near[np.flatnonzero(suspect)].indices)
    involved = suspect | np.isin(s.label[rows], s.label[rows[beside]])
    keep = np.flatnonzero(involved)
    places = _Places.of(
        groups, rows[keep], at[keep], allowed[keep], near[keep][:, keep], suspect[keep]
    )
    places.take_for_others()
    places.take_apart()
    places.leave_out(last)


def _begin_anew(groups: Groups, group: int) -> None:
    """Give the group's sightings and surfaces the names that the captures say."""
    s, f = groups.sightings, groups.surfaces
    own = groups.group[s.station] == group
    for row in [row for row in groups.doubted if own[row]]:
        groups.doubted.discard(row)
        groups.why_out.pop(row, None)
    target = np.where(own, s.label, s.target)
    groups.sightings = replace(s, target=target, remark=np.where(own, "", s.remark))
    on = groups.group[f.station] == group
    groups.surfaces = replace(f, target=np.where(on, f.label, f.target))


def _torn(label: Ints, at: Floats, allowed: Floats) -> Ints:
    """Labels whose sightings do not all lie together."""
    order = np.argsort(label, kind="stable")
    label, at, allowed = label[order], at[order], allowed[order]
    if not len(label):
        return label
    begins = np.flatnonzero(np.append(True, label[1:] != label[:-1]))
    size = np.maximum.reduceat(at, begins) - np.minimum.reduceat(at, begins)
    wide = np.hypot(*size.T) > MISTAKEN_M + np.maximum.reduceat(allowed, begins)
    return label[begins[wide]]


def _near(at: Floats, allowed: Floats) -> csr_matrix:
    """Which sightings ``(n, n)`` lie so near to each other, by what the vaguer one allows. A table:
    of a large survey few do, and all pairs would be many."""
    i, j = cKDTree(at).query_pairs(float(allowed.max()), output_type="ndarray").T
    near = np.hypot(*(at[i] - at[j]).T) <= np.maximum(allowed[i], allowed[j])
    i, j, own = i[near], j[near], np.arange(len(at))
    row, column = np.concatenate([i, j, own]), np.concatenate([j, i, own])
    return csr_matrix((np.ones(len(row), dtype=bool), (row, column)), (len(at), len(at)))


@dataclass(eq=False)
class _Places:
    """Sightings `rows (n,)` that lie at `at (n, 2)`, gathered into places (`place (n,)`); `name`
    is the label that most sightings give a place, -1 for a place without one of its own; `suspect
    (n,)` are the sightings of labels that are torn; `left` those that are not yet settled."""

    groups: Groups
    rows: Ints
    at: Floats
    allowed: Floats
    place: Ints
    name: Ints
    suspect: np.ndarray
    votes: np.ndarray
    labels: Ints
    left: np.ndarray

    @classmethod
    def of(
        cls,
        groups: Groups,
        rows: Ints,
        at: Floats,
        allowed: Floats,
        near: csr_matrix,
        suspect: np.ndarray,
    ) -> _Places:
        s = groups.sightings
        count, place = connected_components(near, directed=False)
        labels, of = np.unique(s.label[rows], return_inverse=True)
        # Of equals, the stations that come first are taken to be right.
        weight = 1.0 - 1e-7 * np.argsort(np.argsort(s.station[rows], kind="stable"))
        votes = np.zeros((len(labels), count))
        np.add.at(votes, (of, place), weight)
        name = np.full(count, -1, dtype=np.int64)
        for a, b in zip(*linear_sum_assignment(-votes)):
            if votes[a, b] > 0:
                name[b] = labels[a]
        wrong = suspect & (name[place] != s.label[rows])
        return cls(groups, rows, at, allowed, place, name, suspect, votes, labels, wrong)

    def take_for_others(self) -> None:
        """Sightings that lie where another target is, are of that target."""
        for n in np.flatnonzero(self.left):
            name = int(self.name[self.place[n]])
            s = self.groups.sightings
            here = (self.place == self.place[n]) & (s.label[self.rows] == name)
            if name < 0 or not here.any() or self._crowded(n):
                continue
            row, station = self.rows[n], s.station[self.rows[n]]
            away = float(np.hypot(*(self.at[here].mean(axis=0) - self.at[n])))
            taken = (s.target[self.rows] == name) & (s.station[self.rows] == station)
            # What the station itself calls by that name may be wrong as well, and go elsewhere.
            if (taken & ~self.left).any() or away > FITTING_M + self.allowed[n]:
                continue
            own = s.name[s.label[row]]
            text = (
                f"named {own} in the capture, but lies {self._off(n)} from it and fits "
                f"{s.name[name]} within {1e3 * away:.0f} mm: taken for {s.name[name]}"
            )
            others = {int(k) for k in s.station[self.rows[self.place == self.place[n]]]} - {station}
            if len(others) == 1 and self._alone(n):
                (other,) = others
                names = self.groups.names
                text += (
                    f"; {names[station]} and {names[other]} alone do not tell whose name is right"
                )
            self._rename(n, s.name[name], text)

    def take_apart(self) -> None:
        """A place of its own, sighted from two stations or more, is a target of its own."""
        s = self.groups.sightings
        for place in np.unique(self.place[self.left]):
            of = np.flatnonzero(self.left & (self.place == place))
            for label in np.unique(s.label[self.rows[of]]):
                own = of[s.label[self.rows[of]] == label]
                stations = sorted({int(k) for k in s.station[self.rows[own]]})
                if len(stations) < 2:
                    continue
                number = 2
                while self._in_use(f"{s.name[label]} ({number})"):
                    number += 1
                fresh = f"{s.name[label]} ({number})"
                names = ", ".join(self.groups.names[k] for k in stations)
                for n in own:
                    self._rename(
                        n,
                        fresh,
                        f"{s.name[label]} is the name of two places, {self._off(n)} apart: this "
                        f"one, sighted from {names}, is taken for {fresh}",
                    )

    def leave_out(self, last: bool) -> None:
        """What fits nothing is out; with it what it contradicts, unless others confirm that."""
        s = self.groups.sightings
        for label in np.unique(s.label[self.rows[self.left]]):
            of_label = self.suspect & (s.label[self.rows] == label)
            wrong = of_label & self.left
            right = of_label & (self.name[self.place] == label)
            out = np.flatnonzero(wrong)
            if last and right.sum() <= 1:
                out = np.flatnonzero(wrong | right)
            for n in out:
                self.groups.doubted.add(int(self.rows[n]))
                self.groups.why_out[int(self.rows[n])] = (
                    f"lies {self._off(n)} from where other stations sighted {s.name[label]} and "
                    "fits no other target: was the name mistaken?"
                )

    def _in_use(self, name: str) -> bool:
        """Whether a target of that name is sighted, in whatever group."""
        s = self.groups.sightings
        if name not in s.name:
            return False
        index = s.name.index(name)
        return bool(np.any((s.target == index) | (s.label == index)))

    def _crowded(self, n: int) -> bool:
        """Whether several targets stand so near to each other that nothing tells which is meant."""
        s = self.groups.sightings
        here = (self.place == self.place[n]) & ~self.suspect
        return len(np.unique(s.label[self.rows[here]])) > 1

    def _alone(self, n: int) -> bool:
        """Whether only two stations sighted what the name stands for."""
        s = self.groups.sightings
        of = s.label[self.rows] == s.label[self.rows[n]]
        return len(np.unique(s.station[self.rows[of]])) <= 2

    def _off(self, n: int) -> str:
        """How far a sighting lies from the others of its label, in words."""
        s = self.groups.sightings
        label = s.label[self.rows[n]]
        home = np.flatnonzero(self.name == label)
        others = (s.label[self.rows] == label) & (self.place != self.place[n])
        if len(home) and home[0] != self.place[n]:
            others &= self.place == home[0]
        if not others.any():
            return "0 mm"
        away = float(np.hypot(*(self.at[others].mean(axis=0) - self.at[n])))
        return f"{away:.2f} m" if away >= 1.0 else f"{1e3 * away:.0f} mm"

    def _rename(self, n: int, name: str, text: str) -> None:
        s, f = self.groups.sightings, self.groups.surfaces
        row = int(self.rows[n])
        self.groups.sightings = s.renamed([row], name, [text])
        target = self.groups.sightings.target[row]
        same = (f.station == s.station[row]) & (f.label == s.label[row])
        self.groups.surfaces = replace(f, target=np.where(same, target, f.target))
        self.left[n] = False
