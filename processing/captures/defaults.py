# SPDX-License-Identifier: GPL-2.0-or-later
"""What is taken where a file does not say: standard errors (1 sigma), all common practice."""

DISTANCE_SIGMA_M = 0.002
"""A distance of a rotating laser distance meter."""

ANGLE_SIGMA_DEG = 0.03
"""An angle of its turning mirror or head."""

COMPASS_SIGMA_DEG = 3.0
"""A bearing of an electronic compass held still."""

UNCALIBRATED_DEG = 20.0
"""Added in quadrature for a compass that the file says was not calibrated."""

GEOTAG_SIGMA_M = 5.0
"""A position of a handheld GNSS receiver under open sky."""
