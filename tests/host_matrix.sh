#!/usr/bin/env bash
# SPDX-License-Identifier: GPL-2.0-or-later
# The whole check on every host: this machine's own QGIS (tests/set_up_and_test.sh) and the current
# long-term release in a system of its own (tests/second_host.sh), side by side, each on half of the
# processors; then what the release made of the example survey on one is compared with the other.
#
# Usage: tests/host_matrix.sh     on Debian, as root
# Where a machine permits no second system, that is said and the own host decides; a mirror or an index
# that cannot be reached is a failure.
set -euo pipefail
here=$(cd "$(dirname "${BASH_SOURCE[0]}")" && pwd -P)
# shellcheck source=tests/environment.sh
source "$here/environment.sh"
results=$(mktemp -d)
shown=no
leave() {
  # Ended before its time, as by a limit: how far the second host came.
  if [ $shown = no ] && [ -e "$results/second.log" ]; then tail -n 40 "$results/second.log"; fi
  rm -rf "$results"
}
trap leave EXIT
halves=$((($(nproc) + 1) / 2))
export ROOMTIE_WORKERS=${ROOMTIE_WORKERS:-$halves}

# Before the two run: they would want the package manager at the same time.
if [ "$(id -u)" = 0 ] && command -v apt-get >/dev/null; then install_packages debootstrap; fi

echo "Two hosts are checked side by side; what the second says follows when the first has ended."
ROOMTIE_RESULTS="$results/second" "$here/second_host.sh" >"$results/second.log" 2>&1 </dev/null &
second=$!
failed=()
ROOMTIE_RESULTS="$results/own" "$here/set_up_and_test.sh" || failed+=("this machine's own host")
status=0
wait "$second" || status=$?
printf '\n==== The second host\n'
cat "$results/second.log"
shown=yes
case $status in
  0)
    printf '\n== the same results on both hosts\n'
    "$environment/bin/python" "$here/same_results.py" "$results/own" "$results/second" ||
      failed+=("the same results on both hosts")
    ;;
  77) echo "SKIPPED: the second host, for the reason above." ;;
  *) failed+=("the second host") ;;
esac

echo
if [ ${#failed[@]} -gt 0 ]; then
  printf 'FAILED: %s\n' "${failed[@]}"
  exit 1
fi
echo "All hosts passed."
