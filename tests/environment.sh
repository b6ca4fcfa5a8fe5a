# SPDX-License-Identifier: GPL-2.0-or-later
# Sourced by the set-up commands. Installs the host from Debian's packages where it is missing and
# keeps a virtual environment outside the checkout, so that nothing of it can get into a release.
# Sets: root (the checkout), environment (the virtual environment), host (the command-line host).
set -euo pipefail
root=$(cd "$(dirname "${BASH_SOURCE[0]}")/.." && pwd)
environment=${ROOMTIE_ENVIRONMENT:-${XDG_CACHE_HOME:-$HOME/.cache}/roomtie/environment}

as_root() { if [ "$(id -u)" = 0 ]; then "$@"; else sudo "$@"; fi; }

install_host() {
  local wanted="qgis python3-qgis qgis-providers python3-numpy python3-scipy python3-pyproj python3-venv python3-pip git xvfb xauth fonts-dejavu-core"
  local missing="" package
  for package in $wanted; do
    dpkg-query -W -f='${Status}' "$package" 2>/dev/null | grep -q 'install ok installed' || missing="$missing $package"
  done
  [ -z "$missing" ] && return
  echo "Installing from Debian's packages:$missing"
  as_root apt-get update -q
  # shellcheck disable=SC2086 # the list is meant to be split
  as_root env DEBIAN_FRONTEND=noninteractive apt-get install -y -q --no-install-recommends $missing
}

# install_python REQUIREMENTS... : the named requirement files, never a numpy other than the host's
install_python() {
  [ -x "$environment/bin/python" ] || /usr/bin/python3 -m venv --system-site-packages "$environment"
  local constraints="$environment/constraints.txt" file arguments=()
  /usr/bin/python3 -c 'import numpy, scipy; print(f"numpy=={numpy.__version__}\nscipy=={scipy.__version__}")' >"$constraints"
  for file in "$@"; do arguments+=(-r "$file"); done
  "$environment/bin/python" -m pip install -q --disable-pip-version-check -c "$constraints" "${arguments[@]}"
}

install_host
host=$(command -v qgis_process.bin || command -v qgis_process)
