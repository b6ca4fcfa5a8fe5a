# SPDX-License-Identifier: GPL-2.0-or-later
"""Captures kept on disk are the captures that were put there; memory holds one at a time."""

import io
import tempfile
import tracemalloc
from dataclasses import fields, replace

import numpy as np
import pytest
from roomtie.processing.captures import spool as spool_module
from roomtie.processing.captures.layout import lay_out
from roomtie.processing.captures.model import Capture, Flag, Remark
from roomtie.processing.captures.reading import import_captures
from roomtie.processing.captures.spool import Spool, in_memory
from roomtie.processing.errors import SurveyError
from roomtie.processing.layers.rows import recorded_readings
from roomtie.processing.reports.capture_summary import capture_summary_parts
from simulated import capture_of, loop

ROOM = loop([(0.0, 0.0), (5.0, 0.0), (5.0, 4.0), (0.0, 4.0)])


def capture(seed=0, readings=200, **more):
    rng = np.random.default_rng(seed)
    return capture_of(ROOM, (2.0, 1.5), rng=rng, readings=readings, **more)[0]


def same(one, two):
    for field in fields(Capture):
        first, second = getattr(one, field.name), getattr(two, field.name)
        if isinstance(first, np.ndarray):
            assert first.dtype == second.dtype
            np.testing.assert_array_equal(first, second)
        elif first == first:
            assert first == second


def test_what_is_put_is_fetched():
    captures = [capture(k, station=f"S{k}") for k in range(5)]
    captures[2] = replace(captures[2], target=np.array(["ä" * 12] * 200), comment="x")
    with Spool() as spool:
        stored = [spool.put(one) for one in captures]
        for one, two in zip(captures, stored):
            same(one, two)
            same(one, in_memory(two))
            assert len(two) == 200
            assert two.usable_ring.sum() == one.usable_ring.sum()
            np.testing.assert_array_equal(two.xy_m, one.xy_m)
    assert in_memory(captures[0]) is captures[0]


def test_a_changed_capture_takes_the_place_of_the_former():
    with Spool() as spool:
        first, second = spool.put(capture(1)), spool.put(capture(2))
        flagged = in_memory(first).with_flags(np.arange(200) < 7, Flag.MOVED)
        longer = replace(flagged, target=np.array(["a long name"] * 200))
        again = spool.put(longer, first)
        same(again, longer)
        same(second, capture(2))
        remarked = replace(again, remarks=(Remark("level", "Tilted."),))
        same(spool.put(remarked, again), remarked)
        assert spool.put(capture(3), second).station == "A"
        same(again, longer)


def test_a_fetched_array_is_the_callers_own():
    with Spool() as spool:
        stored = spool.put(capture(1))
        stored.flag[:] = 3
        assert not stored.flag.any()


def test_nothing_is_left_in_the_temporary_folder(tmp_path, monkeypatch):
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    with Spool() as spool:
        stored = spool.put(capture(1))
        assert stored.distance_m.any()
        assert list(tmp_path.iterdir()) == []  # nameless: gone even when the program is killed
    with pytest.raises(ValueError, match="closed"):
        _ = stored.distance_m


class SmallDisk(io.FileIO):
    """A file on a disk that takes a thousand bytes."""

    def write(self, data):
        if self.tell() + len(data) > 1000:
            raise OSError(28, "No space left on device")
        return super().write(data)


@pytest.mark.parametrize("readings", [20, 200])
def test_a_full_disk_is_told_in_a_sentence(monkeypatch, tmp_path, readings):
    def on_small_disk(**_):
        return io.BufferedRandom(SmallDisk(tmp_path / "spool", "w+b"))

    monkeypatch.setattr(spool_module.tempfile, "TemporaryFile", on_small_disk)
    with (
        pytest.raises(SurveyError, match=r"could not be kept .*\(No space left"),
        Spool() as spool,
    ):
        spool.put(capture(1, readings))


def test_a_machine_without_room_for_any_temporary_file_is_told(monkeypatch):
    def nowhere(**_):
        raise FileNotFoundError(2, "No usable temporary directory found in ['/tmp']")

    monkeypatch.setattr(spool_module.tempfile, "TemporaryFile", nowhere)
    monkeypatch.setattr(spool_module.tempfile, "gettempdir", nowhere)
    with pytest.raises(SurveyError, match=r"could not be kept .*\(No usable temporary directory"):
        Spool()


def text_of(one, station):
    rows = "".join(f"{a:.3f},{d:.4f}\n" for a, d in zip(one.angle_deg, one.distance_m))
    head = "# angle_unit: deg\n# distance_unit: m\n# rotation: clockwise\n"
    return f"# station: {station}\n{head}angle,distance\n{rows}"


@pytest.fixture(scope="module")
def folders(tmp_path_factory):
    """Folders of 3 and of 12 captures."""
    made = []
    for count in (3, 12):
        folder = tmp_path_factory.mktemp(f"captures{count}")
        for k in range(count):
            (folder / f"{k:02}.csv").write_text(text_of(capture(k, 400), f"S{k:02}"))
        made.append(folder)
    return made


def test_an_import_on_disk_is_the_import_in_memory(folders):
    held = import_captures(folders[0])
    with Spool() as spool:
        kept = import_captures(folders[0], spool=spool)
        assert kept.warnings == held.warnings
        assert kept.digests == held.digests
        for one, two in zip(held.captures, kept.captures):
            same(one, two)


def test_memory_grows_with_a_capture_not_with_the_folder(folders):
    def peak(folder):
        tracemalloc.start()
        try:
            with Spool() as spool:
                survey = import_captures(folder, spool=spool)
                xy, orientation = lay_out(survey)
                for table in recorded_readings(survey, xy, orientation).parts:
                    assert len(table) == 400
                assert sum(len(piece) for piece in capture_summary_parts(survey, "Six")) > 10_000
            return tracemalloc.get_traced_memory()[1]
        finally:
            tracemalloc.stop()

    peak(folders[0])  # what is made once
    few, many = (peak(folder) for folder in folders)
    one = capture(0, 400)
    values = [getattr(one, field.name) for field in fields(Capture)]
    arrays = sum(value.nbytes for value in values if isinstance(value, np.ndarray))
    # 9 captures more: their headers, not their arrays.
    assert many - few < 9 * arrays / 3
