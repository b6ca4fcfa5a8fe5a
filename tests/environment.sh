# SPDX-License-Identifier: GPL-2.0-or-later
# shellcheck shell=bash
# Sourced by the set-up commands. Installs the host from Debian's packages where it is missing and
# keeps a virtual environment outside the checkout, so that nothing of it can get into a release.
#
# Sets: root (the checkout), environment (the virtual environment), host (the command-line host,
# once install_host ran). Offers install_packages, install_host, install_python,
# install_types, quiet_host, site_packages, retried and fail.
set -euo pipefail
root=$(cd "$(dirname "${BASH_SOURCE[0]}")/.." && pwd -P)
: "${HOME:=$(getent passwd "$(id -u)" | cut -d: -f6)}"
export HOME
environment=${ROOMTIE_ENVIRONMENT:-${XDG_CACHE_HOME:-$HOME/.cache}/roomtie/environment}

# What a user installed or configured for Python elsewhere must not decide what happens here.
unset PYTHONPATH PYTHONHOME VIRTUAL_ENV
export PYTHONNOUSERSITE=1

fail() {
  echo "$*" >&2
  exit 1
}

as_root() {
  if [ "$(id -u)" = 0 ]; then
    "$@"
  elif command -v sudo >/dev/null; then
    sudo "$@"
  else
    fail "Installing Debian packages needs root: run this as root, or install sudo."
  fi
}

# retried COMMAND... : run up to three times, as what fetches from a mirror or an index may fail once
retried() {
  local tries=0
  until "$@"; do
    tries=$((tries + 1))
    if [ $tries -ge 3 ]; then return 1; fi
    echo "Trying again: $*" >&2
    sleep $((tries * 5))
  done
}

# install_packages PACKAGES... : what is missing of them, from Debian
install_packages() {
  local missing=() package
  for package in "$@"; do
    dpkg-query -W -f='${Status}' "$package" 2>/dev/null | grep -q 'install ok installed' ||
      missing+=("$package")
  done
  [ ${#missing[@]} -gt 0 ] || return 0
  echo "Installing from Debian's packages: ${missing[*]}"
  # The lock: a machine that has just started may still be updating itself.
  # A source that fails need not be one that is needed: the installation decides.
  as_root apt-get -q -q -o DPkg::Lock::Timeout=300 update || true
  retried as_root env DEBIAN_FRONTEND=noninteractive apt-get -q -q -o DPkg::Lock::Timeout=300 \
    -o Acquire::Retries=3 -o Dpkg::Use-Pty=0 install -y --no-install-recommends "${missing[@]}" \
    </dev/null >/dev/null
}

# In one process with the host, shapely's calls end up in the host's GEOS, so that both must be of one
# release (3.11 on Debian 12), or the host crashes. Debian 13 brings such a shapely 2. Debian 12's is
# older; of the wheels, those of shapely 2.0 carry GEOS 3.11.
on_debian_12() { [ "$(. /etc/os-release && echo "${VERSION_ID:-}")" = 12 ]; }

# install_host PACKAGES... : the host, and what else is named
install_host() {
  local wanted=(
    qgis python3-qgis qgis-providers
    python3-numpy python3-scipy python3-pyproj python3-venv python3-pip
    fonts-dejavu-core
    "$@"
  )
  on_debian_12 || wanted+=(python3-shapely)
  install_packages "${wanted[@]}"
  # Debian's qgis_process is a wrapper that passes an option which QGIS 3.22 refuses.
  host=$(command -v qgis_process.bin || command -v qgis_process)
}

# install_python REQUIREMENTS... : the named requirement files, never a numpy or scipy other than
# the host's, against which GDAL's bindings are built. Does nothing when nothing has changed.
install_python() {
  local constraints file stamp arguments=()
  constraints=$(/usr/bin/python3 -c 'import numpy, scipy, sys
print(f"# Python {sys.version}\nnumpy=={numpy.__version__}\nscipy=={scipy.__version__}")')
  if on_debian_12; then constraints+=$'\nshapely<2.1'; fi
  for file in "$@"; do arguments+=(-r "$file"); done
  stamp="$environment/installed-$( (echo "$constraints" && cat "$@") | sha256sum | cut -c1-16)"
  [ -e "$stamp" ] && return

  if ! "$environment/bin/python" -m pip --version >/dev/null 2>&1; then
    if [ -e "$environment" ] && [ ! -e "$environment/pyvenv.cfg" ]; then
      fail "$environment is there and is no virtual environment: name another with ROOMTIE_ENVIRONMENT."
    fi
    rm -rf "$environment"
    mkdir -p "$(dirname "$environment")"
    /usr/bin/python3 -m venv --system-site-packages "$environment"
  fi
  # Debian's pyproj looks for its data beside the Python that runs.
  mkdir -p "$environment/share"
  ln -sfn /usr/share/proj "$environment/share/proj"
  echo "Installing Python packages into $environment"
  echo "$constraints" >"$environment/constraints.txt"
  retried "$environment/bin/python" -m pip install -q --disable-pip-version-check \
    --only-binary shapely -c "$environment/constraints.txt" "${arguments[@]}"
  touch "$stamp"
}

# install_types FOLDER REQUIREMENTS... : what the type checker reads and nothing runs, in a folder of
# its own in the environment: wheels for the Python that pyproject.toml tells it, whatever this host
# has. Sets: types.
install_types() {
  types="$environment/$1"
  shift
  local stamp file arguments=()
  for file in "$@"; do arguments+=(-r "$file"); done
  stamp="$types/installed-$(cat "$@" | sha256sum | cut -c1-16)"
  [ -e "$stamp" ] && return
  rm -rf "$types"
  /usr/bin/python3 -m venv --without-pip "$types"
  retried "$environment/bin/python" -m pip install -q --disable-pip-version-check --no-deps --upgrade \
    --only-binary :all: --python-version 3.11 --target "$(echo "$types"/lib/python3*/site-packages)" \
    "${arguments[@]}"
  touch "$stamp"
}

# quiet_host: what Qt otherwise complains about on a machine without a session
quiet_host() {
  export QT_QPA_PLATFORM=offscreen
  if [ -z "${XDG_RUNTIME_DIR:-}" ]; then
    export XDG_RUNTIME_DIR="$environment/runtime"
    mkdir -p -m 700 "$XDG_RUNTIME_DIR"
  fi
}

# The folder that the host's own Python needs on PYTHONPATH to see what install_python installed.
site_packages() {
  "$environment/bin/python" -c 'import sysconfig; print(sysconfig.get_path("purelib"))'
}
