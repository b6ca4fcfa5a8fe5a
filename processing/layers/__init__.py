# SPDX-License-Identifier: GPL-2.0-or-later
"""The layers that the plugin makes and reads: the only place where field names are written."""
