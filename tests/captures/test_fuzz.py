# SPDX-License-Identifier: GPL-2.0-or-later
"""Whatever a file holds, it is read, or refused with one clear sentence; and the good capture
beside it is imported. tests/fuzz/run.py goes on where this ends."""

import shutil

import pytest
from attempts import attempt, attempt_beside_a_good_one
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from mutations import SEEDS, mutated

names = st.sampled_from(sorted(SEEDS))
few = settings(
    max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)


@pytest.fixture
def folder(tmp_path):
    """Empties itself for every example."""

    def fresh():
        shutil.rmtree(tmp_path)
        tmp_path.mkdir()
        return tmp_path

    return fresh


@pytest.mark.parametrize("name", SEEDS)
def test_what_is_mutated_is_valid_at_first(tmp_path, name):
    survey = attempt(tmp_path, name, SEEDS[name])
    assert not isinstance(survey, str), survey
    assert not survey.skipped


@few
@given(names, st.integers(0, 2**32), st.booleans(), st.booleans(), st.booleans())
def test_a_damaged_file_is_read_or_refused(folder, name, seed, given, skip, checks):
    data, _ = mutated(SEEDS[name], seed)
    attempt(folder(), name, data, given, skip, checks)


@few
@given(names, st.integers(0, 2**32), st.booleans())
def test_a_good_capture_beside_a_damaged_file_is_imported(folder, name, seed, checks):
    data, _ = mutated(SEEDS[name], seed)
    attempt_beside_a_good_one(folder(), name, data, checks)


@few
@given(names, st.binary(max_size=300) | st.text(max_size=300).map(str.encode), st.booleans())
def test_any_bytes_are_read_or_refused(folder, name, data, given):
    attempt(folder(), name, data, given)
    attempt_beside_a_good_one(folder(), name, data)
