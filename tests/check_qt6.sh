#!/usr/bin/env bash
# SPDX-License-Identifier: GPL-2.0-or-later
# The type checker on what uses Qt, against the declarations of PyQt 6, whatever Qt this host has:
# a name, a member or a way of calling that Qt 6 does not know is told with its line.
#
# Usage: tests/check_qt6.sh     after tests/set_up_and_test.sh has made the environment.
#
# Only Qt is judged, not the types at large. What is written for an older Qt alone, behind a question
# of the version, says so on its line: "type: ignore[attr-defined]".
set -euo pipefail
# shellcheck source=tests/environment.sh
source "$(dirname "${BASH_SOURCE[0]}")/environment.sh"
cd "$root"
install_types types-qt6 tests/types.txt tests/qt6_types.txt

# The host's door to Qt is Qt 6 behind it; what the host itself offers may be anything.
host_types=$(mktemp -d)
trap 'rm -rf "$host_types"' EXIT
mkdir -p "$host_types/qgis/PyQt"
touch "$host_types/qgis/__init__.pyi" "$host_types/qgis/PyQt/__init__.pyi"
for module in core gui utils; do
  printf 'from typing import Any\ndef __getattr__(name: str) -> Any: ...\n' >"$host_types/qgis/$module.pyi"
done
for module in QtCore QtGui QtNetwork QtPrintSupport QtSvg QtTest QtWidgets QtXml sip; do
  echo "from PyQt6.$module import *" >"$host_types/qgis/PyQt/$module.pyi"
done

MYPYPATH="$host_types" "$environment/bin/mypy" --config-file tests/qt6_types.ini \
  --python-executable "$types/bin/python" __init__.py plugin processing/algorithms \
  processing/layers processing/provider.py
