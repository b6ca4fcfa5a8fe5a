# SPDX-License-Identifier: GPL-2.0-or-later
"""Many buildings: a tree of surveys through the host's command line, on one machine or several.

``python3 -m roomtie.processing.many SURVEYS RESULTS`` with the folder above the plugin's on
PYTHONPATH. Needs the standard library, and psycopg2 for PostGIS; the host runs in child processes.
"""
