#!/usr/bin/env bash
# SPDX-License-Identifier: GPL-2.0-or-later
# Runs the whole check (tests/set_up_and_test.sh) on a second host: the current long-term release of
# QGIS from Debian 13 with backports, in a folder that debootstrap makes. As root, on Debian.
#
# Usage: tests/host_matrix.sh [FOLDER]
# The folder (default: in ~/.cache/roomtie) keeps the system with what is installed in it, so that
# only the first run takes its minutes.
set -euo pipefail
here=$(cd "$(dirname "${BASH_SOURCE[0]}")" && pwd -P)
# shellcheck source=tests/environment.sh
source "$here/environment.sh"
system=${1:-${XDG_CACHE_HOME:-$HOME/.cache}/roomtie/debian-13}
suite=trixie

[ "$(id -u)" = 0 ] || fail "A second system in a folder needs root: run this as root."
dpkg-query -W debootstrap >/dev/null 2>&1 ||
  DEBIAN_FRONTEND=noninteractive apt-get -q -q -o DPkg::Lock::Timeout=300 install -y \
    --no-install-recommends debootstrap >/dev/null

# The mirror is the one that this machine's own sources name.
mirror=$(apt-get indextargets --format '$(SITE)' 'Created-By: Packages' | grep -m1 '/debian/\?$' || true)
[ -n "$mirror" ] || fail "No mirror of Debian's archive is among this machine's package sources."

if [ ! -e "$system/made" ]; then
  echo "Making a Debian 13 in $system"
  rm -rf "$system"
  mkdir -p "$system"
  debootstrap --variant=minbase --include=ca-certificates "$suite" "$system" "$mirror" >"$system.log" 2>&1 ||
    { tail -n 20 "$system.log"; fail "debootstrap could not make the system."; }
  printf 'deb %s %s main\n' "$mirror" "$suite" "$mirror" "$suite-backports" >"$system/etc/apt/sources.list"
  printf 'Package: *\nPin: release n=%s-backports\nPin-Priority: 500\n' "$suite" \
    >"$system/etc/apt/preferences.d/backports"
  touch "$system/made"
fi

# What this machine needs to reach its package registries, the second system needs too.
for file in /etc/resolv.conf /etc/hosts /etc/pip.conf /etc/ssl/certs/ca-certificates.crt; do
  if [ -e "$file" ]; then install -D -m 644 "$(readlink -f "$file")" "$system$file"; fi
done
mounted=()
leave() {
  local place
  for place in "${mounted[@]}"; do umount -l "$place" || true; done
}
trap leave EXIT
attach() { # attach SOURCE PLACE : what is there is seen in the second system too
  mkdir -p "$system$2"
  mount --rbind "$1" "$system$2"
  mount --make-rslave "$system$2"
  mounted=("$system$2" "${mounted[@]}")
}
attach /proc /proc
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
  env | grep -E '^(CI|PIP_[A-Z_]*|SSL_CERT_FILE|SSL_CERT_DIR|REQUESTS_CA_BUNDLE|https?_proxy|HTTPS?_PROXY|no_proxy|NO_PROXY)=' || true
)
env -i PATH=/usr/local/sbin:/usr/local/bin:/usr/sbin:/usr/bin:/sbin:/bin LANG=C.UTF-8 \
  HOME=/check/home ROOMTIE_ENVIRONMENT=/check/environment "${passed_on[@]}" \
  chroot "$system" /bin/bash /check/main/tests/set_up_and_test.sh
