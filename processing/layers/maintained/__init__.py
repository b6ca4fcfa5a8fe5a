# SPDX-License-Identifier: GPL-2.0-or-later
"""Rows of a layer that somebody else keeps, changed in one transaction."""
