# SPDX-License-Identifier: GPL-2.0-or-later
"""The spatial index of points that are written all at once.

SQLite's R-tree takes points one by one and splits its nodes as they fill. Where all points come in
groups that lie together, the nodes can be packed and written as they are: sorted into columns and
cut into tiles (S. T. Leutenegger, M. A. Lopez, J. Edgington: STR, a simple and efficient algorithm
for R-tree packing, 1997), group by group for the leaves and together for the nodes above.

The nodes' format is that of SQLite's rtree module (head of ext/rtree/rtree.c), which cannot change
without making every database unreadable: two bytes depth (in the root), two bytes count, then cells
of eight bytes row or node number and four big-endian single floats min x, max x, min y, max y.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator

import numpy as np

from ..angles import Floats

_CELL = np.dtype([("number", ">i8"), ("box", ">f4", (4,))])
_ROOT = 1


class PackedIndex:
    """Fills the empty R-tree of a layer: `add` groups of points, then `finish`."""

    def __init__(self, database: sqlite3.Connection, name: str) -> None:
        self._database = database
        self._name = name.replace('"', '""')
        (self._size,) = database.execute(
            f'SELECT length(data) FROM "{self._name}_node" WHERE nodeno = 1'  # noqa: S608
        ).fetchone()
        self._most = (self._size - 4) // _CELL.itemsize
        self._next = _ROOT + 1
        self._numbers: list[np.ndarray] = []
        self._boxes: list[np.ndarray] = []

    def add(self, first: int, xy: Floats) -> None:
        """Points ``xy (n, 2)`` of the rows from the number `first` on; those with NaN have none."""
        there = np.flatnonzero(np.isfinite(xy).all(axis=1))
        if not len(there):
            return
        boxes = _around(xy[there][:, [0, 0, 1, 1]])
        tiles = list(_tiles(boxes, self._most))
        numbers = np.array([self._write(first + there[tile], boxes[tile]) for tile in tiles])
        self._numbers.append(numbers)
        self._boxes.append(np.stack([_union(boxes[tile]) for tile in tiles]))
        # In the order of the rows, so that each is put behind the last.
        node = np.empty(len(there), dtype=np.int64)
        node[np.concatenate(tiles)] = np.repeat(numbers, [len(tile) for tile in tiles])
        self._database.executemany(
            f'INSERT INTO "{self._name}_rowid" VALUES (?, ?)',  # noqa: S608
            zip((first + there).tolist(), node.tolist()),
        )

    def finish(self) -> None:
        """Write the nodes above the leaves."""
        if not self._numbers:
            return
        numbers, boxes = np.concatenate(self._numbers), np.concatenate(self._boxes)
        depth = 1
        while len(numbers) > self._most:
            above, unions = [], []
            for tile in _tiles(boxes, self._most):
                node = self._write(numbers[tile], boxes[tile])
                self._adopt(numbers[tile], node)
                above.append(node)
                unions.append(_union(boxes[tile]))
            numbers, boxes = np.array(above), np.stack(unions)
            depth += 1
        self._adopt(numbers, _ROOT)
        self._write(numbers, boxes, _ROOT, depth)

    def _write(
        self, numbers: np.ndarray, boxes: np.ndarray, node: int | None = None, depth: int = 0
    ) -> int:
        if node is None:
            node, self._next = self._next, self._next + 1
        cells = np.empty(len(numbers), dtype=_CELL)
        cells["number"], cells["box"] = numbers, boxes
        head = depth.to_bytes(2, "big") + len(numbers).to_bytes(2, "big")
        self._database.execute(
            f'INSERT OR REPLACE INTO "{self._name}_node" VALUES (?, ?)',  # noqa: S608
            (node, (head + cells.tobytes()).ljust(self._size, b"\0")),
        )
        return node

    def _adopt(self, children: np.ndarray, parent: int) -> None:
        self._database.executemany(
            f'INSERT INTO "{self._name}_parent" VALUES (?, ?)',  # noqa: S608
            ((child, parent) for child in children.tolist()),
        )


def _around(boxes: Floats) -> np.ndarray:
    """Boxes ``(n, 4)`` in single floats that hold the exact ones."""
    single = boxes.astype(np.float32)
    down = np.nextafter(single, np.float32(-np.inf))
    up = np.nextafter(single, np.float32(np.inf))
    for low in (0, 2):
        single[:, low] = np.where(single[:, low] > boxes[:, low], down[:, low], single[:, low])
        high = low + 1
        single[:, high] = np.where(single[:, high] < boxes[:, high], up[:, high], single[:, high])
    return single


def _union(boxes: np.ndarray) -> np.ndarray:
    low, high = boxes.min(axis=0), boxes.max(axis=0)
    return np.array([low[0], high[1], low[2], high[3]], dtype=np.float32)


def _tiles(boxes: np.ndarray, most: int) -> Iterator[np.ndarray]:
    """Places of the boxes in tiles of at most `most`, as even as can be."""
    nodes = -(-len(boxes) // most)
    columns = round(np.sqrt(nodes)) or 1
    order = np.argsort(boxes[:, 0], kind="stable")
    left = nodes
    for index, column in enumerate(np.array_split(order, columns)):
        tiles = max(-(-len(column) // most), round(left / (columns - index)))
        left -= tiles
        for tile in np.array_split(column[np.argsort(boxes[column, 2], kind="stable")], tiles):
            if len(tile):
                yield tile
