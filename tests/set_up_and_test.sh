#!/usr/bin/env bash
# SPDX-License-Identifier: GPL-2.0-or-later
# Sets up a bare Debian 12 or 13 (as root, or with sudo) and runs the linters and all tests.
# Every check is run, whatever became of the others; the exit status says whether all passed.
#
# Usage: tests/set_up_and_test.sh [--tests-only]
# --tests-only leaves out the linters and type checks, which are the same on every host.
# ROOMTIE_ENVIRONMENT names the folder of the virtual environment (default: in ~/.cache/roomtie);
# ROOMTIE_WORKERS how many processes share the pure tests (default: up to 4, by the processors);
# ROOMTIE_RESULTS a folder that keeps what the release made of the example survey on this host.
set -euo pipefail
here=$(cd "$(dirname "${BASH_SOURCE[0]}")" && pwd -P)
# shellcheck source=tests/environment.sh
source "$here/environment.sh"

# postgresql-postgis: for the tests of building layers, which start a server of their own; xvfb: for
# those in a real window; qttools5-dev-tools: compiles the translations of a release; locales: sources
# of the languages that some tests run under
install_host postgresql-postgis xvfb xauth qttools5-dev-tools locales
cd "$root"
install_python processing/requirements.txt tests/requirements.txt

quiet_host
export PATH="$environment/bin:$PATH"
# Small matrices: threads of the linear algebra library cost more than they bring.
export OMP_NUM_THREADS=1

failed=()
check() {
  local name=$1
  shift
  printf '\n== %s\n' "$name"
  "$@" </dev/null || failed+=("$name")
}

if [ "${1:-}" != --tests-only ]; then
  check "ruff check" ruff check .
  check "ruff format" ruff format --check .
  check "types of the pure stages" tests/check_types.sh
  check "Qt 6" tests/check_qt6.sh
  check "import rule" tests/check_imports.sh
  check "the release, as the plugin repository looks at it" python tests/check_release.py
fi
check "pure tests, without the host" pytest -q -p no:pytest_qgis -n "${ROOMTIE_WORKERS:-auto}" --maxprocesses 4 \
  --dist loadfile -W ignore::pytest.PytestConfigWarning --durations=5 \
  --ignore=tests/host --ignore=tests/benchmarks
rm -rf .qgis-settings # the profile that pytest-qgis makes: each run starts from an empty one
check "tests in the host" pytest -q tests/host

echo
if [ ${#failed[@]} -gt 0 ]; then
  printf 'FAILED: %s\n' "${failed[@]}"
  exit 1
fi
echo "All checks passed."
