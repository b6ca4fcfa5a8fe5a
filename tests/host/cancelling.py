# SPDX-License-Identifier: GPL-2.0-or-later
"""A person who cancels."""

from qgis.core import QgsProcessingFeedback


class CancelsAt(QgsProcessingFeedback):
    """Cancels as soon as the progress has come so far (percent)."""

    def __init__(self, percent):
        super().__init__(False)
        self.progressChanged.connect(lambda reached: reached >= percent and self.cancel())


class Cancelled(QgsProcessingFeedback):
    """Has cancelled from the start."""

    def isCanceled(self):  # noqa: N802 - the host's name
        return True
