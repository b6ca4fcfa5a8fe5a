# SPDX-License-Identifier: GPL-2.0-or-later
"""The colour of each kind of change of a room, on the map and in the report; apart for
colour-blind readers. Nothing is imported here: the map's styles need it at start-up."""

CHANGE_COLOURS = {
    "unchanged": "#e4e8ea",
    "reshaped": "#e8b04b",
    "moved": "#7fb2d8",
    "split": "#b48ac0",
    "merged": "#6fb08a",
    "new": "#3f7cac",
    "removed": "#c9553d",
    "unresolved": "#f3e26b",
}
