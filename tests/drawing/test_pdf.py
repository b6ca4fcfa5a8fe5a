# SPDX-License-Identifier: GPL-2.0-or-later
import pytest
from roomtie.processing.drawing.pdf import is_whole

BODY = b"%PDF-1.4\n1 0 obj\n<< >>\nendobj\n"
TABLE = b"xref\n0 1\n0000000000 65535 f \ntrailer\n<< >>\n"


def trailer(at):
    return b"startxref\n%d\n%%%%EOF\n" % at


WHOLE = BODY + TABLE + trailer(len(BODY))
UPDATE = b"2 0 obj\n<< /Type /XRef >>\nendobj\n"
UPDATED = WHOLE + UPDATE + trailer(len(WHOLE))


@pytest.mark.parametrize("data", [WHOLE, UPDATED])
def test_a_whole_file_is_whole_and_no_beginning_of_it(tmp_path, data):
    path = tmp_path / "a.pdf"
    for end in range(len(data)):
        path.write_bytes(data[:end])
        # White space at the end may be missing, and an update as a whole.
        assert is_whole(path) == (data[:end].strip() in (WHOLE.strip(), data.strip())), end
    path.write_bytes(data)
    assert is_whole(path)


@pytest.mark.parametrize("at", [12, len(BODY) - 5])
def test_what_is_missing_in_the_middle_is_seen(tmp_path, at):
    path = tmp_path / "a.pdf"
    path.write_bytes(UPDATED[:at] + UPDATED[at + 4 :])
    assert not is_whole(path)
