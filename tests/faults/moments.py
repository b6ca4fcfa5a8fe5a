# SPDX-License-Identifier: GPL-2.0-or-later
"""When to kill work, so that some kills come before its end."""

import random


class Moments:
    """`count` instants to kill work that took `lasts` seconds when nobody killed it, and more until
    one came before its end. What else runs on the machine makes it take longer or shorter each
    time, so that a kill that came too late draws the next ones nearer."""

    def __init__(self, lasts, count, seed):
        self.longest, self.count = 1.1 * lasts, count
        self.luck, self.early = random.Random(seed), 0

    def __iter__(self):
        tried = 0
        while tried < self.count or (not self.early and tried < 4 * self.count):
            tried += 1
            yield self.luck.uniform(0.0, self.longest)

    def came(self, early):
        """Whether the last one came before the end."""
        self.early += early
        self.longest *= 1.1 if early else 0.7
