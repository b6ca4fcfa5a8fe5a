# SPDX-License-Identifier: GPL-2.0-or-later
"""The one family of exceptions that the computing stages raise."""


class SurveyError(Exception):
    """A bad input or an impossible request, told in one sentence.

    The message names where (file and line, layer and feature), what was found and what was
    expected. The host's exception is made from it in one place (``algorithms/base.py``).
    """


class Cancelled(SurveyError):
    """The user asked for a stop; nothing was written."""
