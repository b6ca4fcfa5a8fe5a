# SPDX-License-Identifier: GPL-2.0-or-later
"""What a plan says on paper and in drawings for CAD: layers, entities, notes, sheets."""
