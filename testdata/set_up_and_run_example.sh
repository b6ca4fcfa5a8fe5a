#!/usr/bin/env bash
# SPDX-License-Identifier: GPL-2.0-or-later
# Sets up a bare Debian 12 or 13 (as root, or with sudo), draws the plan of the example survey in
# the host without a screen, and writes a picture of the map.
#
# Usage: testdata/set_up_and_run_example.sh [OUTPUT_FOLDER]     (default: ~/roomtie-example)
# ROOMTIE_ENVIRONMENT names the folder of the virtual environment (default: in ~/.cache/roomtie).
set -euo pipefail
here=$(cd "$(dirname "${BASH_SOURCE[0]}")" && pwd -P)
# shellcheck source=tests/environment.sh
source "$here/../tests/environment.sh"
output=${1:-$HOME/roomtie-example}
mkdir -p "$output"
output=$(cd "$output" && pwd -P)
case $output/ in
  "$root"/*) fail "The output folder $output lies in the checkout: name one outside it." ;;
esac

install_host
install_python "$root/processing/requirements.txt"
quiet_host

# A profile and a plugin folder of its own: the user's settings are neither read nor changed. The
# link carries the package's name, whatever the checkout is called.
rm -rf "$environment/profile"
mkdir -p "$environment/plugins" "$environment/profile"
ln -sfn "$root" "$environment/plugins/roomtie"
export QGIS_PLUGINPATH="$environment/plugins"
export QGIS_CUSTOM_CONFIG_PATH="$environment/profile"
# The host runs Debian's Python, whose shapely may be too old.
PYTHONPATH=$(site_packages)
export PYTHONPATH PYTHONDONTWRITEBYTECODE=1 OMP_NUM_THREADS=1

plan="$output/example.gpkg"
report="$output/example.html"
picture="$output/example.png"
rm -f "$plan" "$report" "${report%.html}.json" "$picture"

log=$("$host" plugins enable roomtie 2>&1 </dev/null) || fail "The host could not enable the plugin: $log"
"$host" run roomtie:planfromcaptures -- \
  "INPUT=$root/testdata/example/captures" \
  "CONTROL=$root/testdata/example/control.csv" CONTROL_NAME=target TARGET_CRS=EPSG:32631 \
  "OUTPUT=$plan" "REPORT=$report" </dev/null
/usr/bin/python3 "$here/render_map.py" "$plan" "$picture"

for file in "$plan" "$report" "${report%.html}.json" "$picture"; do
  [ -s "$file" ] || fail "The run ended without writing $file"
done
cat <<END

Plan (GeoPackage):    $plan
Report (HTML):        $report
Report (JSON):        ${report%.html}.json
Picture of the map:   $picture
END
