# SPDX-License-Identifier: GPL-2.0-or-later
"""Drawings as another program reads them."""

import ezdxf


def read(path):
    """The drawing of a DXF file, which must pass the audit of ezdxf as it is."""
    document = ezdxf.readfile(path)
    audit = document.audit()
    assert not audit.errors
    assert not audit.fixes
    return document
