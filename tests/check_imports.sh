#!/usr/bin/env bash
# SPDX-License-Identifier: GPL-2.0-or-later
# The import rule of pyproject.toml: data flows down the stages, and the pure ones never see the host.
#
# Usage: tests/check_imports.sh [CHECKOUT]   with import-linter's `lint-imports` on the PATH.
set -euo pipefail
root=$(cd "${1:-$(dirname "${BASH_SOURCE[0]}")/..}" && pwd -P)

# The package is called roomtie, whatever the checkout's folder is called.
named=$(mktemp -d)
trap 'rm -rf "$named"' EXIT
ln -s "$root" "$named/roomtie"
cd "$named" # away from the root, whose `processing` would shadow the host's
PYTHONPATH=$named lint-imports --no-logo --no-cache "$root/pyproject.toml"
