#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-2.0-or-later
"""A long fuzz run of the capture readers, by hand.

Usage, in the environment that tests/set_up_and_test.sh makes:

    nice -n 19 python tests/fuzz/run.py [--seconds 600] [--start 0] [--guided] [--keep FOLDER]

Every input is a valid file of one of the readers after one to six mutations, or, with --guided,
what libFuzzer makes of those files when it watches which code they reach (`pip install atheris`).
Each input is read alone, every fourth beside a good file with skipping too. The only exception
allowed is the project's own; a survey must be whole, a refusal one clear sentence
(tests/captures/attempts.py). Prints the counts of inputs, mutations and outcomes; exits with 1
when something else came, and keeps those inputs.
"""

import argparse
import importlib.util
import re
import shutil
import sys
import tempfile
import time
import traceback
import warnings
from collections import Counter
from pathlib import Path

TESTS = Path(__file__).resolve().parent.parent
SLOW_S = 5.0


def load(guided):
    """The package under its name, as tests/conftest.py loads it."""
    sys.path.insert(0, str(TESTS / "captures"))

    def package():
        spec = importlib.util.spec_from_file_location("conftest", TESTS / "conftest.py")
        spec.loader.exec_module(importlib.util.module_from_spec(spec))
        import attempts
        import mutations

        return attempts, mutations

    if not guided:
        return package()
    import atheris

    with atheris.instrument_imports(include=["roomtie"]):
        return package()


class Counts:
    """What has come of the inputs so far."""

    def __init__(self, keep):
        self.keep = keep
        self.begin = time.monotonic()
        self.inputs = 0
        self.kinds, self.changes, self.outcomes = Counter(), Counter(), Counter()
        self.failures, self.warned = Counter(), Counter()
        self.slowest = (0.0, "")

    def add(self, name, data, label, attempt):
        start = time.process_time()
        self.inputs += 1
        self.kinds[name] += 1
        with warnings.catch_warnings(record=True) as said:
            warnings.simplefilter("always")
            try:
                self.outcomes[attempt()] += 1
            except BaseException as error:
                # Whatever it is, it is what is looked for.
                if isinstance(error, KeyboardInterrupt):
                    raise
                self.fail(name, data, label, error)
        for warning in said:
            self.warned[f"{Path(warning.filename).name}:{warning.lineno} {warning.message}"] += 1
        took = time.process_time() - start
        self.slowest = max(self.slowest, (took, f"{name} {label}"))
        if took > SLOW_S:
            self.fail(name, data, label, TimeoutError(f"took {took:.1f} s"))

    def fail(self, name, data, label, error):
        last = traceback.extract_tb(error.__traceback__)[-1:]
        where = f"{Path(last[0].filename).name}:{last[0].lineno}" if last else ""
        kind = f"{type(error).__name__} {where}: {str(error)[:200]!r}"
        self.failures[kind] += 1
        if self.failures[kind] == 1:
            self.keep.mkdir(parents=True, exist_ok=True)
            (self.keep / f"{len(self.failures):03}-{label}-{name}").write_bytes(data)
            print(f"FAILURE {label} {name}: {kind}", flush=True)

    def tell(self):
        took = time.monotonic() - self.begin
        print(f"\n{self.inputs} inputs in {took:.0f} s")
        for title, counter in (
            ("files", self.kinds),
            ("mutations", self.changes),
            ("outcomes", self.outcomes),
            ("warnings of libraries", self.warned),
            ("FAILURES", self.failures),
        ):
            print(f"\n{title}: {len(counter)} kinds")
            for what, count in counter.most_common(60):
                print(f"{count:9} {what}")
        print(f"\nslowest: {self.slowest[0]:.2f} s, {self.slowest[1]}")


def outcome(attempts, folder, name, data, bits):
    """Read it alone and beside a good file; what came of the former, in a few words."""
    for place in ("alone", "beside"):
        shutil.rmtree(folder / place, ignore_errors=True)
        (folder / place).mkdir(parents=True)
    given, skip, checks = bits & 1, bits & 2, bits & 4
    profile = attempts.PROFILE if bits & 24 == 24 else None
    found = attempts.attempt(folder / "alone", name, data, given, skip, checks, profile)
    if (bits >> 5) % 4 == 0:
        attempts.attempt_beside_a_good_one(folder / "beside", name, data, checks)
    if not isinstance(found, str):
        return "read, some left out" if found.skipped else "read"
    sentence = re.sub(r"^[^:]*: ", "", found.replace(name, "FILE"))
    sentence = re.sub(r"'(?:[^'\\]|\\.)*'|\"[^\"]*\"", "…", sentence)
    return "refused: " + re.sub(r"-?\d+(\.\d+)?(e[+-]?\d+)?", "0", sentence)[:100]


def by_mutation(arguments, attempts, mutations, counts, folder):
    seed = arguments.start
    while time.monotonic() - counts.begin < arguments.seconds:
        name = sorted(mutations.SEEDS)[seed % len(mutations.SEEDS)]
        data, changes = mutations.mutated(mutations.SEEDS[name], seed, most=6)
        counts.changes.update(changes)
        bits = seed // len(mutations.SEEDS)
        counts.add(
            name, data, seed, lambda n=name, d=data, b=bits: outcome(attempts, folder, n, d, b)
        )
        seed += 1


def by_coverage(arguments, attempts, mutations, counts, folder):
    import os

    import atheris

    corpus = folder / "corpus"
    corpus.mkdir()
    names = sorted(mutations.SEEDS)
    for index, name in enumerate(names):
        (corpus / name).write_bytes(bytes([index, 4]) + mutations.SEEDS[name])
    dictionary = folder / "words"
    words = [word for word in mutations.TOKENS if word and word.isascii() and '"' not in word]
    dictionary.write_text("".join(f'"{word}"\n' for word in words if "\\" not in word))

    def one(data):
        if time.monotonic() - counts.begin > arguments.seconds:
            # libFuzzer leaves the process without a word to Python.
            code = finish(counts)
            sys.stdout.flush()
            shutil.rmtree(folder, ignore_errors=True)
            os._exit(code)
        name, bits = names[data[0] % len(names)] if data else names[0], data[1] if data[1:] else 0
        content = bytes(data[2:])
        counts.add(
            name, content, counts.inputs, lambda: outcome(attempts, folder, name, content, bits)
        )

    limits = ["-max_len=20000", "-verbosity=0"]
    atheris.Setup([sys.argv[0], *limits, f"-dict={dictionary}", str(corpus)], one)
    atheris.Fuzz()


def finish(counts):
    counts.tell()
    return 1 if counts.failures else 0


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--seconds", type=float, default=600.0)
    parser.add_argument("--start", type=int, default=0, help="the first seed")
    parser.add_argument("--guided", action="store_true", help="by atheris (libFuzzer)")
    parser.add_argument("--keep", type=Path, default=Path(tempfile.gettempdir()) / "roomtie-fuzz")
    arguments = parser.parse_args()
    attempts, mutations = load(arguments.guided)
    counts = Counts(arguments.keep)
    memory = Path("/dev/shm")  # noqa: S108 (a new folder in it; files on a disk take longer)
    with tempfile.TemporaryDirectory(dir=memory if memory.is_dir() else None) as folder:
        run = by_coverage if arguments.guided else by_mutation
        run(arguments, attempts, mutations, counts, Path(folder))
    return finish(counts)


if __name__ == "__main__":
    sys.exit(main())
