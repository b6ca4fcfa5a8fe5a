#!/usr/bin/env bash
# SPDX-License-Identifier: GPL-2.0-or-later
# Sets up a second host and runs all tests there: the current long-term release of QGIS, from Debian
# 13 with backports, in a folder that debootstrap makes. As root, on Debian.
#
# Usage: tests/second_host.sh [FOLDER]
# The folder (default: in ~/.cache/roomtie) keeps the system with what is installed in it, so that
# only the first run takes its minutes. ROOMTIE_RESULTS and ROOMTIE_WORKERS: see set_up_and_test.sh.
# Exit status 77: this machine cannot run a second system, for a reason that is told.
set -euo pipefail
here=$(cd "$(dirname "${BASH_SOURCE[0]}")" && pwd -P)
# shellcheck source=tests/environment.sh
source "$here/environment.sh"
system=${1:-${XDG_CACHE_HOME:-$HOME/.cache}/roomtie/debian-13}
suite=trixie

cannot() {
  echo "No second host on this machine: $*" >&2
  exit 77
}

[ "$(id -u)" = 0 ] || cannot "a system in a folder needs root."
command -v apt-get >/dev/null || cannot "it takes the mirror from Debian's package sources, and this is no Debian."
# What is mounted and started in namespaces of its own is gone when this ends, however it ends.
if [ -z "${ROOMTIE_APART:-}" ]; then
  unshare --mount --pid --fork true 2>/dev/null ||
    cannot "mounting and changing the root folder are not permitted here."
  mkdir -p "$(dirname "$system")"
  { mknod "$system.probe" c 1 3 && echo >"$system.probe"; } 2>/dev/null || {
    rm -f "$system.probe"
    cannot "device files are not permitted in $(dirname "$system")."
  }
  rm -f "$system.probe"
  exec env ROOMTIE_APART=yes unshare --mount --propagation private --pid --fork --kill-child \
    "$here/second_host.sh" "$@"
fi
install_packages debootstrap

# The mirror is the one that this machine's own sources name.
mirror=$(apt-get indextargets --format '$(SITE)' 'Created-By: Packages' | grep -m1 '/debian/\?$' || true)
[ -n "$mirror" ] || fail "No mirror of Debian's archive is among this machine's package sources."

make_system() {
  rm -rf "$system"
  mkdir -p "$system"
  debootstrap --variant=minbase --include=ca-certificates "$suite" "$system" "$mirror" >"$system.log" 2>&1
}

if [ ! -e "$system/made" ]; then
  echo "Making a Debian 13 in $system"
  retried make_system || {
    tail -n 20 "$system.log"
    fail "debootstrap could not make the system."
  }
  printf 'deb %s %s main\n' "$mirror" "$suite" "$mirror" "$suite-backports" >"$system/etc/apt/sources.list"
  printf 'Package: *\nPin: release n=%s-backports\nPin-Priority: 500\n' "$suite" \
    >"$system/etc/apt/preferences.d/backports"
  touch "$system/made"
fi

# What this machine needs to reach its package registries, the second system needs too.
for file in /etc/resolv.conf /etc/hosts /etc/pip.conf /etc/ssl/certs/ca-certificates.crt; do
  if [ -e "$file" ]; then install -D -m 644 "$(readlink -f "$file")" "$system$file"; fi
done
attach() { # attach SOURCE PLACE : what is there is seen in the second system too
  mkdir -p "$system$2"
  mount --rbind "$1" "$system$2"
}
mkdir -p "$system/proc"
mount -t proc proc "$system/proc"
attach /dev /dev
while IFS= read -r local_index; do
  if [ -d "$local_index" ]; then attach "$local_index" "$local_index"; fi
done < <(sed -n 's#.*file://\(/[^ ]*\).*#\1#p; s#^find-links *= *\(/[^ ]*\).*#\1#p' /etc/pip.conf 2>/dev/null | tr ' ' '\n')

# A copy of what git knows and of what has changed since, not of what else lies here.
rm -rf "$system/check/main" "$system/check/home"
mkdir -p "$system/check/main" "$system/check/home"
git -c safe.directory="$root" -C "$root" ls-files -z --cached --others --exclude-standard |
  (cd "$root" && xargs -0 tar -c --ignore-failed-read 2>/dev/null) | tar -x -C "$system/check/main"
if [ -d "$root/../shared" ]; then attach "$(cd "$root/../shared" && pwd -P)" /check/shared; fi

passed_on=()
while IFS= read -r variable; do passed_on+=("$variable"); done < <(
  env | grep -E '^(CI|ROOMTIE_WORKERS|PIP_[A-Z_]*|SSL_CERT_FILE|SSL_CERT_DIR|REQUESTS_CA_BUNDLE|https?_proxy|HTTPS?_PROXY|no_proxy|NO_PROXY)=' || true
)
if [ -n "${ROOMTIE_RESULTS:-}" ]; then
  mkdir -p "$ROOMTIE_RESULTS"
  attach "$ROOMTIE_RESULTS" /check/results
  passed_on+=(ROOMTIE_RESULTS=/check/results)
fi
env -i PATH=/usr/local/sbin:/usr/local/bin:/usr/sbin:/usr/bin:/sbin:/bin LANG=C.UTF-8 \
  HOME=/check/home ROOMTIE_ENVIRONMENT=/check/environment "${passed_on[@]}" \
  chroot "$system" /bin/bash /check/main/tests/set_up_and_test.sh --tests-only
