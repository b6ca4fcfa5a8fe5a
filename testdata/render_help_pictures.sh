#!/usr/bin/env bash
# SPDX-License-Identifier: GPL-2.0-or-later
# Makes the pictures of README and help anew that show what comes of the example survey: storeys,
# a page of the report, plan sheet, drawing, and the host's window.
# To be looked at before they are committed. Those of simulated and real captures are made by
# tests/benchmarks/pictures_of_plans.py.
#
# Usage: testdata/render_help_pictures.sh [FOLDER]     (default: plugin/help/pictures)
# On Debian, as root or with sudo, after tests/set_up_and_test.sh.
set -euo pipefail
here=$(cd "$(dirname "${BASH_SOURCE[0]}")" && pwd -P)
# shellcheck source=tests/environment.sh
source "$here/../tests/environment.sh"
pictures=$(cd "${1:-$root/plugin/help/pictures}" && pwd -P)
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT

install_host chromium poppler-utils imagemagick python3-matplotlib
"$here/set_up_and_run_example.sh" "$work/example" >/dev/null
cp "$work/example/example.png" "$pictures/storeys.png"

# The storey above, its rooms and the openings.
chromium --headless --no-sandbox --disable-gpu --hide-scrollbars --window-size=1150,4000 \
  --screenshot="$work/report.png" "file://$work/example/example.html" >/dev/null 2>&1
convert "$work/report.png" -crop 1150x1500+0+1330 +repage "$pictures/report.png"

quiet_host
export QGIS_PLUGINPATH="$environment/plugins" QGIS_CUSTOM_CONFIG_PATH="$environment/profile"
PYTHONPATH=$(site_packages)
export PYTHONPATH PYTHONDONTWRITEBYTECODE=1 OMP_NUM_THREADS=1
plan="$work/example/example.gpkg"
"$host" run roomtie:plansheet -- "INPUT=$plan" PLOT_SCALE=1:100 PAPER="A3 landscape" \
  "OUTPUT=$work/sheet.pdf" </dev/null >/dev/null
pdftoppm -png -r 80 -f 1 -l 1 -singlefile "$work/sheet.pdf" "$pictures/plan-sheet"
"$host" run roomtie:exportdrawing -- "INPUT=$plan" PLOT_SCALES=1:100 COORDINATES=plan \
  "OUTPUT=$work/plan.dxf" </dev/null >/dev/null
/usr/bin/python3 -m ezdxf draw --background WHITE --dpi 100 -f -o "$work/plan.png" "$work/plan.dxf"
convert "$work/plan.png" -resize 1000x "$pictures/export-drawing.png"

mkdir "$work/window"
ROOMTIE_PICTURES="$work/window" "$environment/bin/pytest" -q "$root/tests/host/test_in_a_window.py" \
  -k minute >/dev/null
cp "$work/window/window.png" "$pictures/window.png"
