#!/usr/bin/env bash
# SPDX-License-Identifier: GPL-2.0-or-later
# The type checker on the pure stages, against the numpy of tests/types.txt rather than the one
# that this host happens to bring, so that the verdict is the same everywhere.
#
# Usage: tests/check_types.sh     after tests/set_up_and_test.sh has made the environment.
set -euo pipefail
# shellcheck source=tests/environment.sh
source "$(dirname "${BASH_SOURCE[0]}")/environment.sh"
cd "$root"

install_types types tests/types.txt

# Whatever stands beside the host's part of processing is pure, a new stage included.
mapfile -t pure < <(find processing -mindepth 1 -maxdepth 1 \( -type d -o -name '*.py' \) \
  ! -name __pycache__ ! -name algorithms ! -name 'layers*' ! -name provider.py | sort)
"$environment/bin/mypy" --python-executable "$types/bin/python" "${pure[@]}"
